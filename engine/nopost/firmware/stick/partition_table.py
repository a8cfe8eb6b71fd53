"""Partition tables: MBR with logical partitions, and GPT with its header, its entries and the backup at the end.

Facts: UEFI specification 2.10, 5.2 (MBR), 5.3.2 (GPT header, its two check values, the alternate header in the last
sector) and 5.3.3 (entries); edk2 Mbr.h and UefiGpt.h. Hidden MBR type bytes (normal type + 10h) and the GPT attribute
bit 62 for hidden: from memory.

What was found on a stick, what a board's button asks for, and how much may be read of a stick are frozen values.
"""

from __future__ import annotations

import itertools
import uuid
import zlib
from dataclasses import dataclass, field, replace

from nopost.firmware.bounded_bytes import BLOCK, ByteSource, number

FAT_KINDS = ("FAT12", "FAT16", "FAT32")
UNKNOWN = "unknown"
"""File system that no signature names."""


@dataclass(frozen=True, slots=True)
class DirectoryEntry:
    """A file or folder. `folder`: path of the folder it lies in, empty at the top; `short`: its 8.3 name where there is one;
    `whole`: whether the clusters or the valid length cover its size, None when that was not looked at."""

    name: str
    size: int = 0
    folder: str = ""
    is_folder: bool = False
    short: str = ""
    hidden: bool = False
    whole: bool | None = None

    @property
    def path(self) -> str:
        """Name with the folder before it, parted by a slash."""
        return f"{self.folder}/{self.name}" if self.folder else self.name


@dataclass(frozen=True, slots=True)
class Partition:
    """One entry of a partition table; start and size in bytes. `kind`: type byte in hex, or type GUID."""

    number: int
    kind: str
    start: int
    size: int
    hidden: bool = False
    active: bool = False
    logical: bool = False
    title: str = ""


@dataclass(frozen=True, slots=True)
class PartitionTable:
    """`kind`: MBR, GPT or none; `problems`: what is wrong with the table itself, `doubts`: with its backup."""

    kind: str
    partitions: tuple[Partition, ...] = ()
    problems: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FileSystem:
    """`kind`: by the cluster-count rule for FAT, by signature else. `says`: the text in the boot sector, which proves nothing."""

    kind: str
    says: str = ""
    size: int = 0
    sector: int = 0
    cluster: int = 0
    clusters: int = 0
    dirty: bool = False
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StickVolume:
    """A file system and what lies at its top and in the folders there. `listed`: whether the listing could be read."""

    file_system: FileSystem
    entries: tuple[DirectoryEntry, ...] = ()
    label: str = ""
    listed: bool = True
    partition: Partition | None = None
    problems: tuple[str, ...] = ()

    @property
    def top(self) -> tuple[DirectoryEntry, ...]:
        """Files and folders at the top of the volume."""
        return tuple(entry for entry in self.entries if not entry.folder)


@dataclass(frozen=True, slots=True)
class Stick:
    """`form`: folder, image or device. `top_of_medium`: False for a folder that is not the top of a mounted medium."""

    path: str
    form: str
    size: int
    table: PartitionTable
    volumes: tuple[StickVolume, ...] = ()
    top_of_medium: bool = True
    unreadable: bool = False


@dataclass(frozen=True, slots=True)
class ButtonRequirements:
    """What the button of a board wants, as far as it is known. `button`: None when no record says; `sizes`: of the releases;
    `released`: names that the images have in their archives."""

    file: str = ""
    file_systems: tuple[str, ...] = ()
    socket: str = ""
    sizes: tuple[int, ...] = ()
    chip_size: int = 0
    button: bool | None = None
    released: tuple[str, ...] = ()


@dataclass(slots=True)
class ReadBudget:
    """What may still be read of a whole stick: bytes of folders, links of cluster chains, entries. Crafted sticks cannot ask
    for more."""

    folder_bytes: int = 4 << 20
    links: int = 400_000
    entries: int = 20_000
    spent: set[str] = field(default_factory=set)

    def take(self, what: str, count: int = 1) -> bool:
        """Take so many; False, and noted, when there are not enough."""
        left = getattr(self, what)
        if left < count:
            self.spent.add(what)
            return False
        setattr(self, what, left - count)
        return True


GPT_SIGNATURE = b"EFI PART"
LEAST_HEADER = 92
MOST_ENTRIES = 256
SECTOR_SIZES = (512, 4096)


@dataclass(frozen=True, slots=True)
class GptHeader:
    """A header. `place`: sector where it lies; `mine` and `other`: where it says that it and its twin lie."""

    sector: int
    place: int
    raw: bytes

    def _number(self, offset: int, size: int) -> int:
        return number(self.raw, offset, size)

    @property
    def right(self) -> bool:
        """Whether its length is possible and its CRC-32 is right."""
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
        """CRC-32 of the entries, by the header."""
        return self._number(88, 4)


def read_gpt(source: ByteSource) -> PartitionTable | None:
    """The GPT of a medium, from its backup when nothing else is left. None when there is none."""
    for sector in SECTOR_SIZES:
        first = _gpt_header(source, sector, 1)
        if first is not None:
            table = _gpt_table(source, first)
            return replace(table, doubts=_backup_doubts(source, first) if first.right else ())
    for sector in SECTOR_SIZES:
        last = _gpt_header(source, sector, source.size // sector - 1)
        if last is not None and last.right:
            table = _gpt_table(source, last)
            lost = "the GPT at the start is gone, only its backup at the end is left"
            return replace(table, problems=(lost, *table.problems))
    return None


def _gpt_header(source: ByteSource, sector: int, place: int) -> GptHeader | None:
    raw = source.read(place * sector, 512)
    return GptHeader(sector, place, raw) if raw[:8] == GPT_SIGNATURE else None


def _gpt_table(source: ByteSource, header: GptHeader) -> PartitionTable:
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
            found.append(_gpt_partition(index + 1, entry, header.sector))
    return PartitionTable("GPT", tuple(found), tuple(problems))


def _gpt_partition(place: int, entry: bytes, sector: int) -> Partition:
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


def _entries_right(source: ByteSource, header: GptHeader) -> bool:
    at, count, width = header.entries
    total, end = 0, at + count * width
    while at < end:
        block = source.read(at, min(BLOCK, end - at))
        if not block:
            return False
        total, at = zlib.crc32(block, total), at + len(block)
    return total == header.entries_sum


def _backup_doubts(source: ByteSource, first: GptHeader) -> tuple[str, ...]:
    """What is wrong with the second header and its entries (UEFI specification 2.10, 5.3.2)."""
    last = source.size // first.sector - 1
    backup = _gpt_header(source, first.sector, first.other)
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


SECTOR = 512
EXTENDED = {0x05, 0x0F, 0x85}
PROTECTIVE = 0xEE
HIDDEN_TYPES = {0x11, 0x14, 0x16, 0x17, 0x1B, 0x1C, 0x1E, 0x27}
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


def read_table(source: ByteSource) -> PartitionTable:
    """The table of a whole medium; `none` when there is none."""
    first = source.read(0, SECTOR)
    if number(first, 510, 2) != 0xAA55:
        found = _gpt(source)
        if found is not None:
            return replace(found, problems=(*found.problems, "the protective MBR before the GPT is missing"))
        return PartitionTable("none")
    entries = [first[offset : offset + 16] for offset in range(446, 510, 16)]
    if any(entry[4] == PROTECTIVE for entry in entries):
        found = _gpt(source)
        if found is not None:
            extra = [entry for entry in entries if entry[4] not in (0, PROTECTIVE)]
            mixed = ("the MBR lists partitions beside the GPT, and readers may go by either",) if extra else ()
            return replace(found, problems=(*found.problems, *mixed))
        return PartitionTable("GPT", (), ("the MBR announces a GPT, but there is none that can be read",))
    if not all(entry[0] in (0, 0x80) for entry in entries) or not any(entry[4] for entry in entries):
        return PartitionTable("none")
    return _mbr(source, entries)


def _mbr(source: ByteSource, entries: list[bytes]) -> PartitionTable:
    found: list[Partition] = []
    for index, entry in enumerate(entries, 1):
        start, sectors = number(entry, 8, 4), number(entry, 12, 4)
        if not entry[4] or not sectors:
            continue
        if entry[4] in EXTENDED:
            found += _logical(source, start)
        else:
            found.append(_mbr_partition(index, entry, start))
    return PartitionTable("MBR", tuple(found), _layout_problems(source, found))


def _mbr_partition(index: int, entry: bytes, start: int, logical: bool = False) -> Partition:
    kind = entry[4]
    size = number(entry, 12, 4) * SECTOR
    return Partition(index, f"{kind:02X}", start * SECTOR, size, kind in HIDDEN_TYPES, entry[0] == 0x80, logical)


def _logical(source: ByteSource, base: int) -> list[Partition]:
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
            found.append(_mbr_partition(4 + len(seen), entry, at + number(entry, 8, 4), logical=True))
        if link[4] not in EXTENDED:
            break
        at = base + number(link, 8, 4)
    return found


def _gpt(source: ByteSource) -> PartitionTable | None:
    found = read_gpt(source)
    return found and replace(found, problems=(*found.problems, *_layout_problems(source, list(found.partitions))))


def _layout_problems(source: ByteSource, partitions: list[Partition]) -> tuple[str, ...]:
    problems = [f"partition {p.number} goes beyond the end of the medium" for p in partitions if p.start + p.size > source.size]
    ordered = sorted(partitions, key=lambda p: p.start)
    problems += [
        f"partitions {a.number} and {b.number} overlap" for a, b in itertools.pairwise(ordered) if a.start + a.size > b.start
    ]
    return tuple(problems)
