"""Reading bytes of which nothing is trusted: numbers and runs in bytes that may end anywhere, and parts of a medium that are
read only and bounded. What is not there is short or zero, never an error.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import BinaryIO

BLOCK = 65536
"""Most bytes that one read gives."""


def number(data: bytes, offset: int, size: int) -> int:
    """A little-endian number of `size` bytes; bytes behind the end count as zero, and so does all before the beginning."""
    return int.from_bytes(data[offset : offset + size], "little") if offset >= 0 else 0


def guid(data: bytes, offset: int) -> str:
    """A GUID as it is written, or nothing when the bytes end before it does."""
    raw = data[offset : offset + 16]
    return str(uuid.UUID(bytes_le=raw)) if len(raw) == 16 else ""


def run_from(data: bytes, start: int, end: int, byte: bytes) -> int:
    """How many bytes from `start` on are `byte`."""
    at = start
    while at < end:
        block = data[at : min(at + BLOCK, end)]
        rest = len(block.lstrip(byte))
        at += len(block) - rest
        if rest:
            break
    return at - start


def run_to(data: bytes, start: int, end: int, byte: bytes) -> int:
    """How many bytes before `end` are `byte`."""
    at = end
    while at > start:
        block = data[max(start, at - BLOCK) : at]
        rest = len(block.rstrip(byte))
        at -= len(block) - rest
        if rest:
            break
    return end - at


class ByteSource:
    """A seekable stream of `size` bytes, read at any offset; `unreadable`: whether some read failed."""

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
class ByteWindow:
    """A part of a source; offsets count from its start and do not leave it."""

    source: ByteSource
    start: int
    size: int

    def read(self, offset: int, length: int) -> bytes:
        """Like ByteSource.read, within the window."""
        if offset < 0 or offset >= self.size:
            return b""
        return self.source.read(self.start + offset, min(length, self.size - offset))
