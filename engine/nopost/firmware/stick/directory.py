"""Names in FAT and exFAT folders, at the top and one level down.

Facts: edk2 FatPkg structures; FAT specification 1.03 through restatements (attributes, 8.3 names, long-name parts and
their check value); the case bits at offset 12: from memory; exFAT file system specification, sections 6 and 7.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from nopost.firmware.bounded_bytes import BLOCK, ByteWindow, number
from nopost.firmware.stick.file_system import VolumeLayout, covers, read_folder, valid
from nopost.firmware.stick.partition_table import DirectoryEntry, ReadBudget

HIDDEN, SYSTEM, LABEL, FOLDER, LONG = 0x02, 0x04, 0x08, 0x10, 0x0F
MOST_PARTS = 20
CHECKED_UP_TO = 1 << 30
"""Chains of larger files are not walked: no firmware is that large."""


def list_fat(window: ByteWindow, layout: VolumeLayout, budget: ReadBudget) -> tuple[list[DirectoryEntry], str]:
    """What lies at the top and in the folders there, and the label."""
    label, entries, folders = "", list[DirectoryEntry](), list[tuple[str, int]]()
    for raw, long_name in _fat_records(_fat_root(window, layout, budget)):
        if raw[11] & (LABEL | FOLDER) == LABEL:
            label = label or raw[:11].decode("cp437").rstrip()
            continue
        entry, cluster = _fat_entry(window, layout, raw, long_name, "", budget)
        if not budget.take("entries"):
            return entries, label
        entries.append(entry)
        if entry.is_folder:
            folders.append((entry.name, cluster))
    for name, cluster in folders:
        for raw, long_name in _fat_records(read_folder(window, layout, cluster, budget)):
            if raw[:1] == b"." or raw[11] & (LABEL | FOLDER) == LABEL:
                continue
            if not budget.take("entries"):
                return entries, label
            entries.append(_fat_entry(window, layout, raw, long_name, name, budget)[0])
    return entries, label


def _fat_root(window: ByteWindow, layout: VolumeLayout, budget: ReadBudget) -> Iterator[bytes]:
    if layout.width == 32:
        yield from read_folder(window, layout, layout.root_cluster, budget)
        return
    for offset in range(0, layout.root_size, BLOCK):
        block = window.read(layout.root + offset, min(BLOCK, layout.root_size - offset))
        if not block or not budget.take("folder_bytes", len(block)):
            return
        yield block


def _fat_records(blocks: Iterable[bytes]) -> Iterator[tuple[bytes, str]]:
    """Each entry of 32 bytes that is in use, with the long name that stands before it."""
    parts: list[bytes] = []
    for block in blocks:
        for offset in range(0, len(block) - 31, 32):
            raw = block[offset : offset + 32]
            if raw[0] == 0:
                return
            if raw[0] == 0xE5:
                parts = []
            elif raw[11] & 0x3F == LONG:
                parts = [raw] if raw[0] & 0x40 else [*parts, raw][-MOST_PARTS:]
            else:
                yield raw, _long_name(parts, raw)
                parts = []


def _long_name(parts: list[bytes], raw: bytes) -> str:
    """The long name, or nothing when its parts do not belong to this entry."""
    total = len(parts)
    check = short_check(raw[:11])
    for index, part in enumerate(parts):
        if part[0] & 0x3F != total - index or part[13] != check:
            return ""
    text = b"".join(part[1:11] + part[14:26] + part[28:32] for part in reversed(parts))
    return text.decode("utf-16-le", "replace").split("\0")[0]


def short_check(name: bytes) -> int:
    """The check value of an 8.3 name that each part of its long name carries."""
    total = 0
    for value in name:
        total = ((total & 1) << 7) + (total >> 1) + value & 0xFF
    return total


def short_name(raw: bytes, cased: bool = False) -> str:
    """The 8.3 name with its dot; `cased`: in small letters where the case bits say so."""
    stem, ending = raw[:8], raw[8:11]
    if stem[:1] == b"\x05":
        stem = b"\xe5" + stem[1:]
    first, second = stem.decode("cp437").rstrip(" "), ending.decode("cp437").rstrip(" ")
    if cased:
        first = first.lower() if raw[12] & 0x08 else first
        second = second.lower() if raw[12] & 0x10 else second
    return f"{first}.{second}" if second else first


def _fat_entry(
    window: ByteWindow, layout: VolumeLayout, raw: bytes, long_name: str, folder: str, budget: ReadBudget
) -> tuple[DirectoryEntry, int]:
    cluster = number(raw, 26, 2) | (number(raw, 20, 2) << 16 if layout.width == 32 else 0)
    is_folder = bool(raw[11] & FOLDER)
    size = 0 if is_folder else number(raw, 28, 4)
    whole = None if is_folder or size > CHECKED_UP_TO else covers(window, layout, cluster, size, budget)
    hidden = bool(raw[11] & (HIDDEN | SYSTEM))
    name = long_name or short_name(raw, cased=True)
    return DirectoryEntry(name, size, folder, is_folder, short_name(raw), hidden, whole), cluster


EXFAT_FILE, EXFAT_STREAM, EXFAT_NAME, EXFAT_LABEL = 0x85, 0xC0, 0xC1, 0x83
NO_CHAIN = 0x02


def list_exfat(window: ByteWindow, layout: VolumeLayout, budget: ReadBudget) -> tuple[list[DirectoryEntry], str, tuple[str, ...]]:
    """What lies at the top and in the folders there, the label, and problems."""
    entries, folders, label, broken = list[DirectoryEntry](), list[tuple[str, int, int]](), "", 0
    for group in _exfat_groups(read_folder(window, layout, layout.root_cluster, budget)):
        if group[0][0] == EXFAT_LABEL:
            label = group[0][2 : 2 + 2 * min(group[0][1], 11)].decode("utf-16-le", "replace")
            continue
        entry = _exfat_entry(window, layout, group, "", budget)
        if entry is None or not budget.take("entries"):
            broken += entry is None
            continue
        entries.append(entry)
        if entry.is_folder:
            stream = group[1]
            run = number(stream, 24, 8) if stream[1] & NO_CHAIN else 0
            folders.append((entry.name, number(stream, 20, 4), run))
    for name, cluster, run in folders:
        for group in _exfat_groups(read_folder(window, layout, cluster, budget, run)):
            found = _exfat_entry(window, layout, group, name, budget) if group[0][0] == EXFAT_FILE else None
            if found is not None and budget.take("entries"):
                entries.append(found)
    problems = (f"{broken} entries at the top are damaged",) if broken else ()
    return entries, label, problems


def _exfat_groups(blocks: Iterable[bytes]) -> Iterator[list[bytes]]:
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
            if raw[0] == EXFAT_FILE:
                group = [raw]
            elif raw[0] == EXFAT_LABEL:
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


def _exfat_entry(
    window: ByteWindow, layout: VolumeLayout, group: list[bytes], folder: str, budget: ReadBudget
) -> DirectoryEntry | None:
    """The file of this set, or None when the set is damaged."""
    head = group[0]
    if len(group) < 3 or len(group) != head[1] + 1 or group[1][0] != EXFAT_STREAM or set_check(group) != number(head, 2, 2):
        return None
    stream = group[1]
    text = b"".join(part[2:32] for part in group[2:] if part[0] == EXFAT_NAME)
    name = text[: 2 * stream[3]].decode("utf-16-le", "replace")
    attributes = number(head, 4, 2)
    is_folder = bool(attributes & FOLDER)
    size, first = number(stream, 24, 8), number(stream, 20, 4)
    whole: bool | None = None
    if not is_folder and size <= CHECKED_UP_TO:
        whole = number(stream, 8, 8) == size and _placed(window, layout, first, size, bool(stream[1] & NO_CHAIN), budget)
    return DirectoryEntry(name, 0 if is_folder else size, folder, is_folder, "", bool(attributes & (HIDDEN | SYSTEM)), whole)


def _placed(window: ByteWindow, layout: VolumeLayout, first: int, size: int, no_chain: bool, budget: ReadBudget) -> bool | None:
    if size == 0:
        return True
    if no_chain:
        return valid(layout, first) and valid(layout, first + -(-size // layout.cluster) - 1)
    return covers(window, layout, first, size, budget)
