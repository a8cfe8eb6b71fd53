"""Files in a firmware file system, counted. Layout: PI specification 1.8, volume 3, 3.2.3; edk2 Pi/PiFirmwareFile.h."""

from __future__ import annotations

from nopost.firmware.image.bounded import number

HEADER = 24
LARGE_HEADER = 32
LARGE = 0x01
PADDING = 0xF0
MOST_FILES = 100_000


class Budget:
    """How many files may still be looked at in this image."""

    def __init__(self, left: int = MOST_FILES) -> None:
        self.left = left

    @property
    def spent(self) -> bool:
        """Whether it is used up."""
        return self.left <= 0


def count_files(data: bytes, start: int, end: int, base: int, budget: Budget) -> tuple[int, int, int]:
    """Files, padding files, and files whose header does not add up. Free space or a length that leads nowhere ends the search."""
    files = padding = bad = 0
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
        if size < length or at + size > end:
            break
        at = base + (at - base + size + 7 & ~7)
    return files, padding, bad


def _length(data: bytes, at: int, head: bytes) -> tuple[int, int]:
    """Size of the header and of the file."""
    if head[19] & LARGE:
        return LARGE_HEADER, number(data, at + HEADER, 8)
    return HEADER, number(head, 20, 3)


def _adds_up(data: bytes, at: int, length: int) -> bool:
    """The header's bytes add up to 0 with state and file check sum taken as 0."""
    return (sum(data[at : at + length]) - data[at + 17] - data[at + 23]) & 0xFF == 0
