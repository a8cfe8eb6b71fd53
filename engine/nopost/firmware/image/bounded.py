"""Numbers from bytes that may end anywhere, and runs of one byte."""

from __future__ import annotations

import uuid

BLOCK = 1 << 16
ONES, ZEROS = b"\xff", b"\0"


def number(data: bytes, offset: int, size: int) -> int:
    """A little-endian number; bytes behind the end count as zero."""
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
