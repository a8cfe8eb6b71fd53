"""The structures of an SMBIOS table: walked, and those of types 0, 1, 2, 4, 16 and 17 as values. Offsets and
meanings: DSP0134. Serial numbers are not read.

No length is trusted: what does not fit into the bytes ends the walk. A number that the machine does not tell is None.
"""

from __future__ import annotations

from dataclasses import dataclass

from nopost.firmware.bounded_bytes import number

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
        return number(self.fixed, offset, size)

    def text(self, offset: int) -> str:
        """The string whose number stands at this offset; empty when there is none."""
        which = self.number(offset) or 0
        return self.strings[which - 1].strip() if 0 < which <= len(self.strings) else ""


@dataclass(frozen=True, slots=True)
class StructureWalk:
    """What a walk found, and why it ended early, if it did."""

    structures: tuple[Structure, ...]
    ended_early: str = ""


def walk_structures(table: bytes, count: int = 0) -> StructureWalk:
    """All structures up to the end mark, the count (0: not told) or the end of the bytes. Takes time in line with the bytes."""
    found: list[Structure] = []
    position, limit = 0, min(count or MOST_STRUCTURES, MOST_STRUCTURES)
    while len(found) < limit and position + HEADER <= len(table):
        kind, length = table[position], table[position + 1]
        if length < HEADER:
            return StructureWalk(
                tuple(found), f"structure {len(found) + 1} gives itself {length} bytes; it needs at least {HEADER}"
            )
        start = position + length
        end = table.find(b"\0\0", start)
        if end < 0:
            return StructureWalk(tuple(found), f"structure {len(found) + 1} goes on behind the end of the table")
        handle = number(table, position + 2, 2)
        found.append(Structure(kind, handle, table[position:start], _strings(table, start, end)))
        if kind == END_OF_TABLE:
            break
        position = end + 2
    return StructureWalk(tuple(found))


def _strings(table: bytes, start: int, end: int) -> tuple[str, ...]:
    if start >= end:
        return ()
    parts = table[start:end].split(b"\0", MOST_STRINGS)[:MOST_STRINGS]
    return tuple(part[:LONGEST_STRING].decode("utf-8", "replace") for part in parts)


KIB, MIB, GIB = 1 << 10, 1 << 20, 1 << 30
BYTE_FULL, WORD_FULL = 0xFF, 0xFFFF
MOTHERBOARD = 0x0A
CENTRAL_PROCESSOR = 0x03
SYSTEM_MEMORY = 0x03
MEMORY_TYPES = {0x12: "DDR", 0x13: "DDR2", 0x18: "DDR3", 0x1A: "DDR4", 0x1E: "LPDDR4", 0x22: "DDR5", 0x23: "LPDDR5"}


@dataclass(frozen=True, slots=True)
class FirmwareInfo:
    """Type 0."""

    vendor: str
    version: str
    date: str
    rom_bytes: int | None


@dataclass(frozen=True, slots=True)
class SystemInfo:
    """Type 1."""

    maker: str
    product: str
    version: str
    sku: str
    family: str


@dataclass(frozen=True, slots=True)
class Baseboard:
    """Type 2."""

    maker: str
    product: str
    version: str
    board_type: int | None


@dataclass(frozen=True, slots=True)
class Processor:
    """Type 4. `state`: 1 enabled, 2 switched off by the user, 3 switched off by the firmware after an error, 4 idle."""

    socket: str
    kind: int | None
    maker: str
    name: str
    populated: bool | None
    state: int | None
    cores: int | None
    cores_enabled: int | None
    threads: int | None


@dataclass(frozen=True, slots=True)
class MemoryArray:
    """Type 16."""

    handle: int
    use: int | None
    most_bytes: int | None
    slots: int | None


@dataclass(frozen=True, slots=True)
class MemoryDevice:
    """Type 17: one slot. `size` 0: empty, None: not told. Rates are in MT/s. `rank`: how many ranks the module has."""

    array: int | None
    locator: str
    bank: str
    size: int | None
    type: str
    rated: int | None
    configured: int | None
    part: str
    millivolts: int | None
    rank: int | None


def firmware(s: Structure) -> FirmwareInfo:
    """A structure of type 0."""
    return FirmwareInfo(s.text(0x04), s.text(0x05), s.text(0x08), _rom_bytes(s))


def system(s: Structure) -> SystemInfo:
    """A structure of type 1."""
    return SystemInfo(s.text(0x04), s.text(0x05), s.text(0x06), s.text(0x19), s.text(0x1A))


def baseboard(s: Structure) -> Baseboard:
    """A structure of type 2."""
    return Baseboard(s.text(0x04), s.text(0x05), s.text(0x06), s.number(0x0D))


def processor(s: Structure) -> Processor:
    """A structure of type 4."""
    status = s.number(0x18)
    return Processor(
        socket=s.text(0x04),
        kind=s.number(0x05),
        maker=s.text(0x07),
        name=s.text(0x10),
        populated=None if status is None else bool(status & 0x40),
        state=None if status is None else status & 0x07,
        cores=_count(s, 0x23, 0x2A),
        cores_enabled=_count(s, 0x24, 0x2C),
        threads=_count(s, 0x25, 0x2E),
    )


def memory_array(s: Structure) -> MemoryArray:
    """A structure of type 16."""
    most = s.number(0x07, 4)
    most = s.number(0x0F, 8) if most == 0x8000_0000 else most * KIB if most else None
    return MemoryArray(s.handle, s.number(0x05), most, s.number(0x0D, 2))


def memory_device(s: Structure) -> MemoryDevice:
    """A structure of type 17."""
    return MemoryDevice(
        array=s.number(0x04, 2),
        locator=s.text(0x10),
        bank=s.text(0x11),
        size=_module_bytes(s),
        type=MEMORY_TYPES.get(s.number(0x12) or 0, ""),
        rated=_rate(s, 0x15, 0x54),
        configured=_rate(s, 0x20, 0x58),
        part=s.text(0x1A),
        millivolts=s.number(0x26, 2) or None,
        rank=(s.number(0x1B) or 0) & 0x0F or None,
    )


def _rom_bytes(s: Structure) -> int | None:
    blocks, extended = s.number(0x09), s.number(0x18, 2)
    if blocks is None:
        return None
    if blocks != BYTE_FULL or extended is None:
        return (blocks + 1) * 64 * KIB
    unit = {0: MIB, 1: GIB}.get(extended >> 14)
    return None if unit is None else (extended & 0x3FFF) * unit


def _count(s: Structure, short: int, long: int) -> int | None:
    """A count with a wide field for more than 254."""
    value = s.number(short)
    if value == BYTE_FULL:
        wide = s.number(long, 2)
        value = BYTE_FULL if wide is None else wide if wide != WORD_FULL else None
    return value or None


def _module_bytes(s: Structure) -> int | None:
    size = s.number(0x0C, 2)
    if size is None or size == WORD_FULL:
        return None
    if size == 0x7FFF:
        wide = s.number(0x1C, 4)
        return None if wide is None else (wide & 0x7FFF_FFFF) * MIB
    return (size & 0x7FFF) * KIB if size & 0x8000 else size * MIB


def _rate(s: Structure, short: int, long: int) -> int | None:
    value = s.number(short, 2)
    if value == WORD_FULL:
        wide = s.number(long, 4)
        value = None if wide is None else wide & 0x7FFF_FFFF
    return value or None
