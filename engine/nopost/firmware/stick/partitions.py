"""Partition tables: MBR with logical partitions, and what stands before a GPT.

Facts: UEFI specification 2.10, section 5.2 (MBR); edk2 Mbr.h. Hidden type bytes (normal type + 10h): from memory.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

from nopost.firmware.stick.gpt import read_gpt
from nopost.firmware.stick.model import Partition, Table
from nopost.firmware.stick.source import Source, number

SECTOR = 512
EXTENDED = {0x05, 0x0F, 0x85}
PROTECTIVE = 0xEE
HIDDEN = {0x11, 0x14, 0x16, 0x17, 0x1B, 0x1C, 0x1E, 0x27}
MOST_LOGICAL = 60
TYPE_KINDS = {
    0x01: ("FAT12",),
    0x04: ("FAT16",),
    0x06: ("FAT16",),
    0x0E: ("FAT16",),
    0x0B: ("FAT32",),
    0x0C: ("FAT32",),
    0x07: ("NTFS", "exFAT"),
}
"""MBR type byte -> file systems it promises."""


def read_table(source: Source) -> Table:
    """The table of a whole medium; `none` when there is none."""
    first = source.read(0, SECTOR)
    if number(first, 510, 2) != 0xAA55:
        found = _gpt(source)
        if found is not None:
            return replace(found, problems=(*found.problems, "the protective MBR before the GPT is missing"))
        return Table("none")
    entries = [first[offset : offset + 16] for offset in range(446, 510, 16)]
    if any(entry[4] == PROTECTIVE for entry in entries):
        found = _gpt(source)
        if found is not None:
            extra = [entry for entry in entries if entry[4] not in (0, PROTECTIVE)]
            mixed = ("the MBR lists partitions beside the GPT, and readers may go by either",) if extra else ()
            return replace(found, problems=(*found.problems, *mixed))
        return Table("GPT", (), ("the MBR announces a GPT, but there is none that can be read",))
    if not all(entry[0] in (0, 0x80) for entry in entries) or not any(entry[4] for entry in entries):
        return Table("none")
    return _mbr(source, entries)


def _mbr(source: Source, entries: list[bytes]) -> Table:
    found: list[Partition] = []
    for index, entry in enumerate(entries, 1):
        start, sectors = number(entry, 8, 4), number(entry, 12, 4)
        if not entry[4] or not sectors:
            continue
        if entry[4] in EXTENDED:
            found += _logical(source, start)
        else:
            found.append(_partition(index, entry, start))
    return Table("MBR", tuple(found), _problems(source, found))


def _partition(index: int, entry: bytes, start: int, logical: bool = False) -> Partition:
    kind = entry[4]
    size = number(entry, 12, 4) * SECTOR
    return Partition(index, f"{kind:02X}", start * SECTOR, size, kind in HIDDEN, entry[0] == 0x80, logical)


def _logical(source: Source, base: int) -> list[Partition]:
    """Logical partitions; a chain that comes back to where it was ends there."""
    found: list[Partition] = []
    at, seen = base, set[int]()
    while at not in seen and len(seen) < MOST_LOGICAL:
        seen.add(at)
        sector = source.read(at * SECTOR, SECTOR)
        if number(sector, 510, 2) != 0xAA55:
            break
        entry, link = sector[446:462], sector[462:478]
        if entry[4] and number(entry, 12, 4):
            found.append(_partition(4 + len(seen), entry, at + number(entry, 8, 4), logical=True))
        if link[4] not in EXTENDED:
            break
        at = base + number(link, 8, 4)
    return found


def _gpt(source: Source) -> Table | None:
    found = read_gpt(source)
    return found and replace(found, problems=(*found.problems, *_problems(source, list(found.partitions))))


def _problems(source: Source, partitions: list[Partition]) -> tuple[str, ...]:
    problems = [f"partition {p.number} goes beyond the end of the medium" for p in partitions if p.start + p.size > source.size]
    ordered = sorted(partitions, key=lambda p: p.start)
    problems += [
        f"partitions {a.number} and {b.number} overlap" for a, b in itertools.pairwise(ordered) if a.start + a.size > b.start
    ]
    return tuple(problems)
