"""Partition tables: MBR with logical partitions, and GPT.

Facts: UEFI specification 2.10, sections 5.2 (MBR) and 5.3 (GPT); edk2 Mbr.h and UefiGpt.h. Hidden type bytes (normal type + 10h)
and the GPT attribute bit 62 for hidden: from memory.
"""

from __future__ import annotations

import itertools
import uuid
import zlib

from nopost.firmware.stick.model import Partition, Table
from nopost.firmware.stick.source import Source, number

SECTOR = 512
EXTENDED = {0x05, 0x0F, 0x85}
PROTECTIVE = 0xEE
HIDDEN = {0x11, 0x14, 0x16, 0x17, 0x1B, 0x1C, 0x1E, 0x27}
MOST_LOGICAL = 60
MOST_GPT_ENTRIES = 256
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
            return Table(found.kind, found.partitions, (*found.problems, "the protective MBR before the GPT is missing"))
        return Table("none")
    entries = [first[offset : offset + 16] for offset in range(446, 510, 16)]
    if any(entry[4] == PROTECTIVE for entry in entries):
        found = _gpt(source)
        if found is not None:
            extra = [entry for entry in entries if entry[4] not in (0, PROTECTIVE)]
            mixed = ("the MBR lists partitions beside the GPT, and readers may go by either",) if extra else ()
            return Table("GPT", found.partitions, (*found.problems, *mixed))
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
    for sector in (512, 4096):
        header = source.read(sector, 512)
        if header[:8] == b"EFI PART":
            return _gpt_table(source, sector, header)
    return None


def _gpt_table(source: Source, sector: int, header: bytes) -> Table:
    problems = []
    length = number(header, 12, 4)
    plain = header[:16] + bytes(4) + header[20:length]
    if not 92 <= length <= len(header) or zlib.crc32(plain) != number(header, 16, 4):
        problems.append("the check value of the GPT header is wrong")
    count, width = number(header, 80, 4), number(header, 84, 4)
    if not 128 <= width <= 4096 or count > MOST_GPT_ENTRIES:
        problems.append("the GPT header gives sizes that cannot be")
        width, count = 128, min(count, MOST_GPT_ENTRIES)
    at = number(header, 72, 8) * sector
    found = []
    for index in range(count):
        entry = source.read(at + index * width, 128)
        if len(entry) < 128:
            break
        if not any(entry[:16]):
            continue
        start, last = number(entry, 32, 8), number(entry, 40, 8)
        found.append(
            Partition(
                index + 1,
                str(uuid.UUID(bytes_le=entry[:16])).upper(),
                start * sector,
                max(0, last - start + 1) * sector,
                hidden=bool(number(entry, 48, 8) >> 62 & 1),
                active=bool(number(entry, 48, 8) >> 2 & 1),
                title=entry[56:128].decode("utf-16-le", "replace").split("\0")[0],
            )
        )
    return Table("GPT", tuple(found), (*problems, *_problems(source, found)))


def _problems(source: Source, partitions: list[Partition]) -> tuple[str, ...]:
    problems = [f"partition {p.number} goes beyond the end of the medium" for p in partitions if p.start + p.size > source.size]
    ordered = sorted(partitions, key=lambda p: p.start)
    problems += [
        f"partitions {a.number} and {b.number} overlap" for a, b in itertools.pairwise(ordered) if a.start + a.size > b.start
    ]
    return tuple(problems)
