"""Names in FAT folders: 8.3 and long ones, at the top and one level down.

Facts: edk2 FatPkg structures; FAT specification 1.03 through restatements (attributes, long-name parts and their check value);
the case bits at offset 12: from memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from nopost.firmware.stick.boot_sector import Layout
from nopost.firmware.stick.chains import covers, read_folder
from nopost.firmware.stick.model import Entry
from nopost.firmware.stick.source import BLOCK, Budget, Window, number

HIDDEN, SYSTEM, LABEL, FOLDER, LONG = 0x02, 0x04, 0x08, 0x10, 0x0F
MOST_PARTS = 20
CHECKED_UP_TO = 1 << 30
"""Chains of larger files are not walked: no firmware is that large."""


def list_fat(window: Window, layout: Layout, budget: Budget) -> tuple[list[Entry], str]:
    """What lies at the top and in the folders there, and the label."""
    label, entries, folders = "", list[Entry](), list[tuple[str, int]]()
    for raw, long_name in _records(_root(window, layout, budget)):
        if raw[11] & (LABEL | FOLDER) == LABEL:
            label = label or raw[:11].decode("cp437").rstrip()
            continue
        entry, cluster = _entry(window, layout, raw, long_name, "", budget)
        if not budget.take("entries"):
            return entries, label
        entries.append(entry)
        if entry.is_folder:
            folders.append((entry.name, cluster))
    for name, cluster in folders:
        for raw, long_name in _records(read_folder(window, layout, cluster, budget)):
            if raw[:1] == b"." or raw[11] & (LABEL | FOLDER) == LABEL:
                continue
            if not budget.take("entries"):
                return entries, label
            entries.append(_entry(window, layout, raw, long_name, name, budget)[0])
    return entries, label


def _root(window: Window, layout: Layout, budget: Budget) -> Iterator[bytes]:
    if layout.width == 32:
        yield from read_folder(window, layout, layout.root_cluster, budget)
        return
    for offset in range(0, layout.root_size, BLOCK):
        block = window.read(layout.root + offset, min(BLOCK, layout.root_size - offset))
        if not block or not budget.take("folder_bytes", len(block)):
            return
        yield block


def _records(blocks: Iterable[bytes]) -> Iterator[tuple[bytes, str]]:
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


def _entry(window: Window, layout: Layout, raw: bytes, long_name: str, folder: str, budget: Budget) -> tuple[Entry, int]:
    cluster = number(raw, 26, 2) | (number(raw, 20, 2) << 16 if layout.width == 32 else 0)
    is_folder = bool(raw[11] & FOLDER)
    size = 0 if is_folder else number(raw, 28, 4)
    whole = None if is_folder or size > CHECKED_UP_TO else covers(window, layout, cluster, size, budget)
    hidden = bool(raw[11] & (HIDDEN | SYSTEM))
    name = long_name or short_name(raw, cased=True)
    return Entry(name, size, folder, is_folder, short_name(raw), hidden, whole), cluster
