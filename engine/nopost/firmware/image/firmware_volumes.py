"""Firmware volumes, and the files in them counted, with those of their sections that are packed.

Layouts: PI specification 1.8, volume 3, 3.2.1.1 (volumes), 3.2.3 (files) and 3.2.5 (sections); edk2
Pi/PiFirmwareVolume.h and Pi/PiFirmwareFile.h.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from nopost.firmware.bounded_bytes import guid, number
from nopost.firmware.image.image_parts import FirmwareVolume

FILE_HEADER = 24
LARGE_FILE_HEADER = 32
LARGE = 0x01
PADDING = 0xF0
MOST_FILES = 100_000
WITHOUT_SECTIONS = (0x01, PADDING)
"""Raw files hold anything."""
COMPRESSED, GUID_DEFINED = 0x01, 0x02
PROCESSING_REQUIRED = 0x01
LARGE_SIZE = 0xFFFFFF


class ScanBudget:
    """How many files and sections may still be looked at in this image."""

    def __init__(self, left: int = MOST_FILES) -> None:
        self.left = left

    @property
    def spent(self) -> bool:
        """Whether it is used up."""
        return self.left <= 0


@dataclass(frozen=True, slots=True)
class FileCount:
    """`bad`: files whose header does not add up; `packed`: sections whose inside is not plain."""

    files: int = 0
    padding: int = 0
    bad: int = 0
    packed: int = 0


def count_files(data: bytes, start: int, end: int, base: int, budget: ScanBudget) -> FileCount:
    """What a file system holds. Free space or a length that leads nowhere ends the search."""
    files = padding = bad = packed = 0
    at = start
    while at + FILE_HEADER <= end and not budget.spent:
        head = data[at : at + FILE_HEADER]
        if head in (b"\xff" * FILE_HEADER, b"\0" * FILE_HEADER):
            break
        budget.left -= 1
        length, size = _length(data, at, head)
        right = size >= length and at + size <= end and _adds_up(data, at, length)
        if not right:
            bad += 1
        if head[18] == PADDING:
            padding += 1
        else:
            files += 1
        if right and head[18] not in WITHOUT_SECTIONS:
            packed += _packed(data, at + length, at + size, budget)
        if size < length or at + size > end:
            break
        at = base + (at - base + size + 7 & ~7)
    return FileCount(files, padding, bad, packed)


def _packed(data: bytes, start: int, end: int, budget: ScanBudget) -> int:
    """Sections of a file that have to be unpacked first: compressed ones, and GUID-defined ones that ask for processing."""
    found, at = 0, start
    while at + 4 <= end and not budget.spent:
        budget.left -= 1
        size, head = number(data, at, 3), 4
        if size == LARGE_SIZE:
            size, head = number(data, at + 4, 4), 8
        if size < head or at + size > end:
            break
        kind = data[at + 3]
        if kind == COMPRESSED and size > head + 4:
            found += data[at + head + 4] != 0
        elif kind == GUID_DEFINED and size >= head + 20:
            found += number(data, at + head + 18, 2) & PROCESSING_REQUIRED
        at = start + (at - start + size + 3 & ~3)
    return found


def _length(data: bytes, at: int, head: bytes) -> tuple[int, int]:
    """Size of the header and of the file."""
    if head[19] & LARGE:
        return LARGE_FILE_HEADER, number(data, at + FILE_HEADER, 8)
    return FILE_HEADER, number(head, 20, 3)


def _adds_up(data: bytes, at: int, length: int) -> bool:
    """The header's bytes add up to 0 with state and file check sum taken as 0."""
    return (sum(data[at : at + length]) - data[at + 17] - data[at + 23]) & 0xFF == 0


VOLUME_SIGNATURE = b"_FVH"
BEFORE_SIGNATURE = 40
FIXED = 56
LEAST_HEADER = 72
MOST_BLOCKS = 64
LONGEST_HEADER = FIXED + 8 * (MOST_BLOCKS + 1)
"""Real maps have one or two entries (judgement); a bound keeps the time linear."""
FILE_SYSTEMS = {
    "8c8ce578-8a3d-4f1c-9935-896185c32dd3": "FFS2",
    "5473c07a-3dcb-4dca-bd6f-1e9689e7349a": "FFS3",
    "fff12b8d-7696-4c8b-a985-2747075b4f50": "variables",
}
MOST_VOLUMES = 256
MOST_CANDIDATES = 4096


@dataclass(frozen=True, slots=True)
class FoundVolumes:
    """Volumes in the order of the file; `left_out`: a bound was met before its end."""

    volumes: tuple[FirmwareVolume, ...]
    left_out: bool


def has_volume(data: bytes, at: int) -> bool:
    """Whether a volume's signature stands where it should when a volume begins at `at`."""
    return data[at + BEFORE_SIGNATURE : at + BEFORE_SIGNATURE + 4] == VOLUME_SIGNATURE


def find_volumes(data: bytes) -> FoundVolumes:
    """All volumes that do not lie in another one."""
    volumes: list[FirmwareVolume] = []
    budget = ScanBudget()
    at = free = 0
    for _ in range(MOST_CANDIDATES):
        at = data.find(VOLUME_SIGNATURE, at)
        if at < 0:
            return FoundVolumes(tuple(volumes), budget.spent)
        if len(volumes) == MOST_VOLUMES:
            break
        start = at - BEFORE_SIGNATURE
        volume = read_volume(data, start, budget) if start >= free else None
        at += len(VOLUME_SIGNATURE)
        if volume is not None:
            volumes.append(volume)
            free = at
            if not volume.faults:
                at = free = start + volume.size
    return FoundVolumes(tuple(volumes), True)


def read_volume(data: bytes, at: int, budget: ScanBudget | None = None) -> FirmwareVolume | None:
    """The volume here, with what is wrong with it; None when these four letters do not begin a volume."""
    if at + LEAST_HEADER > len(data) or not has_volume(data, at):
        return None
    size, header = number(data, at + 32, 8), number(data, at + 48, 2)
    revision, name = data[at + 55], guid(data, at + 16)
    system = FILE_SYSTEMS.get(name, "")
    if header % 2 or not LEAST_HEADER <= header <= LONGEST_HEADER or data[at + 54]:
        return None
    if (not system and revision not in (1, 2)) or size < header:
        return None
    faults = _faults(data, at, size, header)
    end = min(at + size, len(data))
    count = FileCount()
    if system in ("FFS2", "FFS3"):
        count = count_files(data, _first_file(data, at, header), end, at, budget or ScanBudget())
    if count.bad:
        faults.append(f"the header of {count.bad} file{'s' if count.bad > 1 else ''} does not add up")
    inside = count.files, count.padding, count.bad
    return FirmwareVolume(at, size, name, system or "another", revision, *inside, tuple(faults), count.packed)


def _faults(data: bytes, at: int, size: int, header: int) -> list[str]:
    faults = []
    raw = data[at : at + header]
    total = sum(word for (word,) in struct.iter_unpack("<H", raw)) & 0xFFFF if len(raw) == header else -1
    if total:
        faults.append("the check sum of its header is wrong")
    mapped = _mapped(raw)
    if mapped is None:
        faults.append("its block map has no end")
    elif mapped != size:
        faults.append(f"its block map covers {mapped} bytes, its length is {size}")
    if at + size > len(data):
        faults.append(f"it is cut short: {len(data) - at} of {size} bytes")
    return faults


def _mapped(header: bytes) -> int | None:
    """Bytes that the block map covers."""
    total = 0
    for offset in range(FIXED, len(header) - 7, 8):
        count, length = struct.unpack_from("<II", header, offset)
        if not count and not length:
            return total
        total += count * length
    return None


def _first_file(data: bytes, at: int, header: int) -> int:
    """Where the files begin: behind the header, or behind the extended one, at the next step of eight."""
    extended = number(data, at + 52, 2)
    if extended < header:
        return at + header
    length = extended + number(data, at + extended + 16, 4)
    return at + (length + 7 & ~7)
