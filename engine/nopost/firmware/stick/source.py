"""Bytes of an image or a device, read only and bounded: what is not there is short, never an error."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import BinaryIO

BLOCK = 65536
"""Most that one read gives."""


class Source:
    """A seekable stream of so many bytes."""

    def __init__(self, stream: BinaryIO, size: int) -> None:
        self._stream = stream
        self.size = size
        self.unreadable = False

    def read(self, offset: int, length: int) -> bytes:
        """Up to `length` bytes at `offset`; fewer or none at the end, or where the medium cannot be read."""
        length = min(length, BLOCK, self.size - offset)
        if offset < 0 or length <= 0:
            return b""
        try:
            self._stream.seek(offset)
            return self._stream.read(length)
        except OSError:
            self.unreadable = True
            return b""


@dataclass(frozen=True, slots=True)
class Window:
    """A part of a source; offsets count from its start and do not leave it."""

    source: Source
    start: int
    size: int

    def read(self, offset: int, length: int) -> bytes:
        """Like Source.read, within the window."""
        if offset < 0 or offset >= self.size:
            return b""
        return self.source.read(self.start + offset, min(length, self.size - offset))


@dataclass(slots=True)
class Budget:
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


def number(data: bytes, offset: int, length: int) -> int:
    """A little-endian number; what is missing counts as zero."""
    return int.from_bytes(data[offset : offset + length], "little")
