"""GPT: the header behind the first sector, its entries, and the backup at the end.

Facts: UEFI specification 2.10, 5.3.2 (header, its two check values, the alternate header in the last sector) and 5.3.3 (entries);
edk2 UefiGpt.h. The attribute bit 62 for hidden: from memory.
"""

from __future__ import annotations

import uuid
import zlib
from dataclasses import dataclass, replace

from nopost.firmware.stick.model import Partition, Table
from nopost.firmware.stick.source import BLOCK, Source, number

SIGNATURE = b"EFI PART"
LEAST_HEADER = 92
MOST_ENTRIES = 256
SECTORS = (512, 4096)


@dataclass(frozen=True, slots=True)
class Header:
    """A header. `place`: sector where it lies; `mine` and `other`: where it says that it and its twin lie."""

    sector: int
    place: int
    raw: bytes

    def _number(self, offset: int, size: int) -> int:
        return number(self.raw, offset, size)

    @property
    def right(self) -> bool:
        """Whether its check value is."""
        length = self._number(12, 4)
        plain = self.raw[:16] + bytes(4) + self.raw[20:length]
        return LEAST_HEADER <= length <= len(self.raw) and zlib.crc32(plain) == self._number(16, 4)

    @property
    def mine(self) -> int:
        """Sector in which it says that it lies."""
        return self._number(24, 8)

    @property
    def other(self) -> int:
        """Sector in which it says that the other header lies."""
        return self._number(32, 8)

    @property
    def disk(self) -> bytes:
        """GUID of the medium."""
        return self.raw[56:72]

    @property
    def entries(self) -> tuple[int, int, int]:
        """Where they lie in bytes, how many, and how wide each is."""
        return self._number(72, 8) * self.sector, self._number(80, 4), self._number(84, 4)

    @property
    def possible(self) -> bool:
        """Whether number and width of the entries can be."""
        _, count, width = self.entries
        return 128 <= width <= 4096 and count <= MOST_ENTRIES

    @property
    def entries_sum(self) -> int:
        """Check value of the entries."""
        return self._number(88, 4)


def read_gpt(source: Source) -> Table | None:
    """The GPT of a medium, from its backup when nothing else is left. None when there is none."""
    for sector in SECTORS:
        first = _header(source, sector, 1)
        if first is not None:
            table = _table(source, first)
            return replace(table, doubts=_backup_doubts(source, first) if first.right else ())
    for sector in SECTORS:
        last = _header(source, sector, source.size // sector - 1)
        if last is not None and last.right:
            table = _table(source, last)
            lost = "the GPT at the start is gone, only its backup at the end is left"
            return replace(table, problems=(lost, *table.problems))
    return None


def _header(source: Source, sector: int, place: int) -> Header | None:
    raw = source.read(place * sector, 512)
    return Header(sector, place, raw) if raw[:8] == SIGNATURE else None


def _table(source: Source, header: Header) -> Table:
    problems = []
    if not header.right:
        problems.append("the check value of the GPT header is wrong")
    if not header.possible:
        problems.append("the GPT header gives sizes that cannot be")
    elif header.right and not _entries_right(source, header):
        problems.append("the check value of the GPT entries is wrong")
    at, count, width = header.entries
    if not header.possible:
        width, count = 128, min(count, MOST_ENTRIES)
    found = []
    for index in range(count):
        entry = source.read(at + index * width, 128)
        if len(entry) < 128:
            break
        if any(entry[:16]):
            found.append(_partition(index + 1, entry, header.sector))
    return Table("GPT", tuple(found), tuple(problems))


def _partition(place: int, entry: bytes, sector: int) -> Partition:
    start, last, attributes = number(entry, 32, 8), number(entry, 40, 8), number(entry, 48, 8)
    return Partition(
        place,
        str(uuid.UUID(bytes_le=entry[:16])).upper(),
        start * sector,
        max(0, last - start + 1) * sector,
        hidden=bool(attributes >> 62 & 1),
        active=bool(attributes >> 2 & 1),
        title=entry[56:128].decode("utf-16-le", "replace").split("\0")[0],
    )


def _entries_right(source: Source, header: Header) -> bool:
    at, count, width = header.entries
    total, end = 0, at + count * width
    while at < end:
        block = source.read(at, min(BLOCK, end - at))
        if not block:
            return False
        total, at = zlib.crc32(block, total), at + len(block)
    return total == header.entries_sum


def _backup_doubts(source: Source, first: Header) -> tuple[str, ...]:
    """What is wrong with the second header and its entries (UEFI specification 2.10, 5.3.2)."""
    last = source.size // first.sector - 1
    backup = _header(source, first.sector, first.other)
    if backup is None:
        beyond = " (its place lies behind the end of the medium)" if first.other > last else ""
        return (f"the backup of the GPT is missing{beyond}",)
    if not backup.right:
        return ("the check value of the backup GPT header is wrong",)
    if (backup.mine, backup.other, backup.disk) != (first.other, 1, first.disk):
        return ("the backup of the GPT belongs to another table",)
    doubts = []
    if not backup.possible or not _entries_right(source, backup) or backup.entries_sum != first.entries_sum:
        doubts.append("the backup of the GPT lists other partitions, or is damaged")
    if first.other != last:
        doubts.append("the backup of the GPT does not lie at the end of the medium")
    return tuple(doubts)
