"""Walk through the structures of a table. No length is trusted: what does not fit into the bytes ends the walk."""

from __future__ import annotations

from dataclasses import dataclass

HEADER = 4
END_OF_TABLE = 127
MOST_STRUCTURES = 65_536
"""A handle has 16 bits, so there cannot be more."""
MOST_STRINGS = 255
"""A string's number has 8 bits."""
LONGEST_STRING = 1024
"""What is longer is cut; DSP0134 sets no limit since 2.7, real ones are short."""


@dataclass(frozen=True, slots=True)
class Structure:
    """One structure; `fixed` begins with type, length and handle, so that offsets are those of the specification."""

    type: int
    handle: int
    fixed: bytes
    strings: tuple[str, ...] = ()

    def number(self, offset: int, size: int = 1) -> int | None:
        """A little-endian number, or None when this structure is too short to have the field."""
        if offset + size > len(self.fixed):
            return None
        return int.from_bytes(self.fixed[offset : offset + size], "little")

    def text(self, offset: int) -> str:
        """The string whose number stands at this offset; empty when there is none."""
        which = self.number(offset) or 0
        return self.strings[which - 1].strip() if 0 < which <= len(self.strings) else ""


@dataclass(frozen=True, slots=True)
class Walk:
    """What a walk found, and why it ended early, if it did."""

    structures: tuple[Structure, ...]
    fault: str = ""


def walk(table: bytes, count: int = 0) -> Walk:
    """All structures up to the end mark, the count (0: not told) or the end of the bytes. Takes time in line with the bytes."""
    found: list[Structure] = []
    position, limit = 0, min(count or MOST_STRUCTURES, MOST_STRUCTURES)
    while len(found) < limit and position + HEADER <= len(table):
        kind, length = table[position], table[position + 1]
        if length < HEADER:
            return Walk(tuple(found), f"structure {len(found) + 1} gives itself {length} bytes; it needs at least {HEADER}")
        start = position + length
        end = table.find(b"\0\0", start)
        if end < 0:
            return Walk(tuple(found), f"structure {len(found) + 1} goes on behind the end of the table")
        handle = int.from_bytes(table[position + 2 : position + 4], "little")
        found.append(Structure(kind, handle, table[position:start], _strings(table, start, end)))
        if kind == END_OF_TABLE:
            break
        position = end + 2
    return Walk(tuple(found))


def _strings(table: bytes, start: int, end: int) -> tuple[str, ...]:
    if start >= end:
        return ()
    parts = table[start:end].split(b"\0", MOST_STRINGS)[:MOST_STRINGS]
    return tuple(part[:LONGEST_STRING].decode("utf-8", "replace") for part in parts)
