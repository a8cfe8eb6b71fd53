"""Names in exFAT folders, at the top and one level down. Facts: exFAT file system specification, sections 6 and 7."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from nopost.firmware.stick.boot_sector import Layout
from nopost.firmware.stick.chains import covers, read_folder, valid
from nopost.firmware.stick.fat_listing import CHECKED_UP_TO, FOLDER, HIDDEN, SYSTEM
from nopost.firmware.stick.model import Entry
from nopost.firmware.stick.source import Budget, Window, number

FILE, STREAM, NAME, LABEL = 0x85, 0xC0, 0xC1, 0x83
NO_CHAIN = 0x02


def list_exfat(window: Window, layout: Layout, budget: Budget) -> tuple[list[Entry], str, tuple[str, ...]]:
    """What lies at the top and in the folders there, the label, and problems."""
    entries, folders, label, broken = list[Entry](), list[tuple[str, int, int]](), "", 0
    for group in _groups(read_folder(window, layout, layout.root_cluster, budget)):
        if group[0][0] == LABEL:
            label = group[0][2 : 2 + 2 * min(group[0][1], 11)].decode("utf-16-le", "replace")
            continue
        entry = _entry(window, layout, group, "", budget)
        if entry is None or not budget.take("entries"):
            broken += entry is None
            continue
        entries.append(entry)
        if entry.is_folder:
            stream = group[1]
            run = number(stream, 24, 8) if stream[1] & NO_CHAIN else 0
            folders.append((entry.name, number(stream, 20, 4), run))
    for name, cluster, run in folders:
        for group in _groups(read_folder(window, layout, cluster, budget, run)):
            found = _entry(window, layout, group, name, budget) if group[0][0] == FILE else None
            if found is not None and budget.take("entries"):
                entries.append(found)
    problems = (f"{broken} entries at the top are damaged",) if broken else ()
    return entries, label, problems


def _groups(blocks: Iterable[bytes]) -> Iterator[list[bytes]]:
    """Label entries alone, and files as their set of entries."""
    group: list[bytes] = []
    for block in blocks:
        for offset in range(0, len(block) - 31, 32):
            raw = block[offset : offset + 32]
            if group and (raw[0] & 0xC0) == 0xC0 and len(group) <= group[0][1]:
                group.append(raw)
                continue
            if group:
                yield group
                group = []
            if raw[0] == 0:
                return
            if raw[0] == FILE:
                group = [raw]
            elif raw[0] == LABEL:
                yield [raw]
    if group:
        yield group


def set_check(group: list[bytes]) -> int:
    """Section 6.3.3: the sum over a set of entries, without the two bytes that hold it."""
    total = 0
    for index, value in enumerate(b"".join(group)):
        if index not in (2, 3):
            total = ((total << 15 | total >> 1) + value) & 0xFFFF
    return total


def _entry(window: Window, layout: Layout, group: list[bytes], folder: str, budget: Budget) -> Entry | None:
    """The file of this set, or None when the set is damaged."""
    head = group[0]
    if len(group) < 3 or len(group) != head[1] + 1 or group[1][0] != STREAM or set_check(group) != number(head, 2, 2):
        return None
    stream = group[1]
    text = b"".join(part[2:32] for part in group[2:] if part[0] == NAME)
    name = text[: 2 * stream[3]].decode("utf-16-le", "replace")
    attributes = number(head, 4, 2)
    is_folder = bool(attributes & FOLDER)
    size, first = number(stream, 24, 8), number(stream, 20, 4)
    whole: bool | None = None
    if not is_folder and size <= CHECKED_UP_TO:
        whole = number(stream, 8, 8) == size and _placed(window, layout, first, size, bool(stream[1] & NO_CHAIN), budget)
    return Entry(name, 0 if is_folder else size, folder, is_folder, "", bool(attributes & (HIDDEN | SYSTEM)), whole)


def _placed(window: Window, layout: Layout, first: int, size: int, no_chain: bool, budget: Budget) -> bool | None:
    if size == 0:
        return True
    if no_chain:
        return valid(layout, first) and valid(layout, first + -(-size // layout.cluster) - 1)
    return covers(window, layout, first, size, budget)
