"""Read a file with an SMBIOS table: the structures alone, or an entry point with the table behind it in the same
file.

The two entry points (DSP0134: 2.1, 32 bits, and 3.0, 64 bits) say where the table lies, and how long it is.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from nopost.errors import DumpError
from nopost.firmware.bounded_bytes import number
from nopost.firmware.verify import smbios_structures
from nopost.firmware.verify.smbios_structures import Structure, walk_structures

ANCHOR_21 = b"_SM_"
ANCHOR_30 = b"_SM3_"
MIDDLE_21 = b"_DMI_"
SIZE_21 = 0x1F
SIZE_30 = 0x18


@dataclass(frozen=True, slots=True)
class EntryPoint:
    """The entry point of a table. `form`: 2.1 or 3.0; `version` of SMBIOS; `length` of the entry point; `address` and `size`
    of the table, the latter its limit in 3.0; `count`: number of structures, 0 when not given; `sums_right`: whether its
    check sums are."""

    form: str
    version: tuple[int, int]
    length: int
    address: int
    size: int
    count: int
    sums_right: bool


def read_entry(data: bytes) -> EntryPoint | None:
    """The entry point that these bytes begin with, or None."""
    if data.startswith(ANCHOR_30) and len(data) >= SIZE_30:
        return EntryPoint(
            form="3.0",
            version=(data[0x07], data[0x08]),
            length=max(data[0x06], SIZE_30),
            address=number(data, 0x10, 8),
            size=number(data, 0x0C, 4),
            count=0,
            sums_right=_adds_up(data[: max(data[0x06], SIZE_30)]),
        )
    if data.startswith(ANCHOR_21) and len(data) >= SIZE_21 and data[0x10:0x15] == MIDDLE_21:
        return EntryPoint(
            form="2.1",
            version=(data[0x06], data[0x07]),
            length=max(data[0x05], SIZE_21),
            address=number(data, 0x18, 4),
            size=number(data, 0x16, 2),
            count=number(data, 0x1C, 2),
            sums_right=_adds_up(data[: max(data[0x05], SIZE_21)]) and _adds_up(data[0x10:SIZE_21]),
        )
    return None


def _adds_up(part: bytes) -> bool:
    return sum(part) & 0xFF == 0


MAX_BYTES = 16 << 20
"""Real tables have some kilobytes."""
LEAST = {0: 0x12, 1: 0x08, 2: 0x08, 4: 0x1A, 16: 0x0F, 17: 0x15}
"""The structures that are compared, with the length of each in the first version of DSP0134 that has it; later ones only grew."""
CONTROL = re.compile(r"[\x00-\x1f\x7f]")
ADVICE = "give the table itself, on Linux a copy of /sys/firmware/dmi/tables/DMI"


@dataclass(frozen=True, slots=True)
class Dump:
    """What a table says; `notes` are faults of the file that did not keep it from being read."""

    entry: EntryPoint | None
    firmware: smbios_structures.FirmwareInfo | None
    system: smbios_structures.SystemInfo | None
    board: smbios_structures.Baseboard | None
    processors: tuple[smbios_structures.Processor, ...]
    arrays: tuple[smbios_structures.MemoryArray, ...]
    devices: tuple[smbios_structures.MemoryDevice, ...]
    notes: tuple[str, ...] = ()


def read_dump(data: bytes) -> Dump:
    """What these bytes of a file say. Raises DumpError when they hold no table."""
    if not data:
        raise DumpError(f"the file is empty; {ADVICE}, read with the rights of the administrator")
    if len(data) > MAX_BYTES:
        raise DumpError(f"this is too large for a table; {ADVICE}")
    if b"\0" not in data:
        raise DumpError(f"this is text, not a table; {ADVICE}")
    entry = read_entry(data)
    if entry is None and data.startswith((ANCHOR_21, ANCHOR_30)):
        raise DumpError(f"the entry point at the start is cut off or damaged; {ADVICE}")
    table, notes = (data, []) if entry is None else _table_behind(data, entry)
    walked = walk_structures(table, entry.count if entry else 0)
    if walked.ended_early:
        notes.append(f"The table is damaged: {walked.ended_early}. What comes before was read.")
    sure = entry is not None and entry.sums_right
    if not any(s.type in LEAST and (sure or _is_whole(s)) for s in walked.structures):
        raise DumpError(f"there is no SMBIOS table in this file; {ADVICE}")
    return _dump(entry, walked.structures, tuple(notes))


def _is_whole(s: Structure) -> bool:
    """Whether a structure is one and not chance bytes: as long as its type wants, with strings of characters.

    The table itself has no mark to know it by; that is in the entry point.
    """
    return len(s.fixed) >= LEAST[s.type] and not any(map(CONTROL.search, s.strings))


def _table_behind(data: bytes, entry: EntryPoint) -> tuple[bytes, list[str]]:
    """The table's bytes. The address is a place in this file, else that of memory, and then the table follows at once."""
    notes = [] if entry.sums_right else ["The check sum of the entry point is wrong: the file may be damaged."]
    start = entry.address if entry.length <= entry.address < len(data) else entry.length
    if start >= len(data):
        raise DumpError(f"this is the entry point alone; {ADVICE}")
    if entry.form == "2.1" and start + entry.size > len(data):
        notes.append(f"The table should have {entry.size} bytes; {len(data) - start} are there.")
    return data[start : start + entry.size] if entry.size else data[start:], notes


def _dump(entry: EntryPoint | None, structures: tuple[Structure, ...], notes: tuple[str, ...]) -> Dump:
    def of(kind: int) -> list[Structure]:
        return [s for s in structures if s.type == kind]

    boards = [smbios_structures.baseboard(s) for s in of(2)]
    first = next((b for b in boards if b.board_type == smbios_structures.MOTHERBOARD), boards[0] if boards else None)
    return Dump(
        entry=entry,
        firmware=next(map(smbios_structures.firmware, of(0)), None),
        system=next(map(smbios_structures.system, of(1)), None),
        board=first,
        processors=tuple(map(smbios_structures.processor, of(4))),
        arrays=tuple(map(smbios_structures.memory_array, of(16))),
        devices=tuple(map(smbios_structures.memory_device, of(17))),
        notes=notes,
    )
