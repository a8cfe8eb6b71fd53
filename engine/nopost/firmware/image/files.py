"""Files in a firmware file system, counted, and those of their sections that are packed.

Layout: PI specification 1.8, volume 3, 3.2.3 (files) and 3.2.5 (sections); edk2 Pi/PiFirmwareFile.h.
"""

from __future__ import annotations

from dataclasses import dataclass

from nopost.firmware.image.bounded import number

HEADER = 24
LARGE_HEADER = 32
LARGE = 0x01
PADDING = 0xF0
MOST_FILES = 100_000
WITHOUT_SECTIONS = (0x01, PADDING)
"""Raw files hold anything."""
COMPRESSED, GUID_DEFINED = 0x01, 0x02
PROCESSING_REQUIRED = 0x01
LARGE_SIZE = 0xFFFFFF


class Budget:
    """How many files and sections may still be looked at in this image."""

    def __init__(self, left: int = MOST_FILES) -> None:
        self.left = left

    @property
    def spent(self) -> bool:
        """Whether it is used up."""
        return self.left <= 0


@dataclass(frozen=True, slots=True)
class Count:
    """`bad`: files whose header does not add up; `packed`: sections whose inside is not plain."""

    files: int = 0
    padding: int = 0
    bad: int = 0
    packed: int = 0


def count_files(data: bytes, start: int, end: int, base: int, budget: Budget) -> Count:
    """What a file system holds. Free space or a length that leads nowhere ends the search."""
    files = padding = bad = packed = 0
    at = start
    while at + HEADER <= end and not budget.spent:
        head = data[at : at + HEADER]
        if head in (b"\xff" * HEADER, b"\0" * HEADER):
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
    return Count(files, padding, bad, packed)


def _packed(data: bytes, start: int, end: int, budget: Budget) -> int:
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
        return LARGE_HEADER, number(data, at + HEADER, 8)
    return HEADER, number(head, 20, 3)


def _adds_up(data: bytes, at: int, length: int) -> bool:
    """The header's bytes add up to 0 with state and file check sum taken as 0."""
    return (sum(data[at : at + length]) - data[at + 17] - data[at + 23]) & 0xFF == 0
