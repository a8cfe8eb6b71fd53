"""Records of Arm SBMR 2.0, section F, and the 32-bit UEFI status values that they carry.

A record is 9 bytes: status-code type u32, value u32, instance u8, low byte first. Type and value are the status codes of
the UEFI Platform Initialization (PI) specification 1.8, volume 3: the low byte of the type is 1 progress, 2 error, 3
debug; its top byte is the severity. A value is class, subclass and operation; their names are those of the
specification's open header PiStatusCode.h (those that the shipped tables do not use: from memory). What an operation
means depends on the code type too, so only its kind is said here; a table's row says the rest.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading, EventOrder
from nopost.codes.readers.hex_dump import byte_rows, records
from nopost.codes.readers.timestamps import LogLine, order_events

RECORD_SIZE = 9
MOSTLY = 0.8
"""Share of the records that must look right."""
_KINDS = {1: "progress", 2: "error", 3: "debug"}


def is_record(data: bytes) -> bool:
    """Whether 9 bytes can be such a record: the two middle bytes of the type are reserved and nought."""
    return len(data) == RECORD_SIZE and data[0] in _KINDS and data[1] == 0 and data[2] == 0


def record_event(data: bytes, at: float | None = None, boot: int | None = None, line: int = 0) -> CodeEvent | None:
    """The event of one record; None for debug codes, which say nothing about the start-up."""
    kind = _KINDS.get(data[0], "")
    if kind == "debug":
        return None
    status = f"{int.from_bytes(data[4:8], 'little'):08X}"
    return CodeEvent(status, at, boot, kind, status, 1, line)


def read_sbmr(raw: bytes | None, lines: Sequence[LogLine], asked: EventOrder | None = None) -> CodeReading | None:
    """Records as rows of hexadecimal digits, or as raw bytes."""
    if raw is not None:
        found = [(0, raw[k : k + RECORD_SIZE]) for k in range(0, len(raw) - len(raw) % RECORD_SIZE, RECORD_SIZE)] if raw else []
    else:
        rows = byte_rows((i, line.rest) for i, line in enumerate(lines))
        found = records(rows, RECORD_SIZE) if rows else []
    if not found or sum(is_record(data) for _, data in found) < MOSTLY * len(found):
        return None
    return _reading(found, [] if raw is not None else lines, asked)


def _reading(found: Iterable[tuple[int, bytes]], lines: Sequence[LogLine], asked: EventOrder | None) -> CodeReading | None:
    events, indexes, debug, odd, severe = [], [], 0, 0, 0
    used = set()
    for place, data in found:
        if not is_record(data):
            odd += 1
            continue
        used.add(place)
        line = lines[place] if lines else LogLine(0, "")
        event = record_event(data, line.at, line=line.number)
        severe += data[0] == 2 and data[3] >= 0x80
        if event:
            events.append(event)
            indexes.append(line.running)
        else:
            debug += 1
    if not events:
        return None
    done = order_events(events, asked=asked, clock=max((line.clock for line in lines), default=""), indexes=indexes)
    notes = (*_said(debug, odd, severe), *done.notes)
    return CodeReading(
        CodeForm.HEX, "SBMR records", done.events, done.order, done.given, notes, max(0, len(lines) - len(used)) if lines else 0
    )


def _said(debug: int, odd: int, severe: int) -> list[str]:
    notes = []
    if debug:
        notes.append(f"Debug records left out: {debug}.")
    if odd:
        notes.append(f"Records of an unknown form left out: {odd}.")
    if severe:
        notes.append(f"Error records of major severity or worse: {severe}.")
    return notes


CLASSES = {0x00: "computing unit", 0x01: "peripheral", 0x02: "I/O bus", 0x03: "software"}
SUBCLASSES: dict[int, tuple[str, ...]] = {
    0x00: ("unspecified", "host processor", "firmware processor", "I/O processor", "cache", "memory", "chipset"),
    0x01: (
        "unspecified",
        "keyboard",
        "mouse",
        "local console",
        "remote console",
        "serial port",
        "parallel port",
        "fixed media",
        "removable media",
        "audio input",
        "audio output",
        "LCD panel",
        "network",
        "docking station",
        "security chip",
    ),
    0x02: (
        "unspecified",
        "PCI",
        "USB",
        "InfiniBand",
        "AGP",
        "PC card",
        "LPC",
        "SCSI",
        "ATA",
        "Fibre Channel",
        "IP network",
        "SMBus",
        "I2C",
    ),
    0x03: (
        "unspecified",
        "SEC",
        "PEI core",
        "PEI module",
        "DXE core",
        "boot services driver",
        "runtime driver",
        "SMM driver",
        "application",
        "system loader",
        "runtime",
        "abstraction layer",
        "EBC exception",
        "32-bit exception",
        "64-bit exception",
        "PEI service",
        "boot service",
        "runtime service",
        "DXE service",
    ),
}
SPECIFIC = 0x1000
"""Operations from here on belong to the subclass."""
OEM = 0x8000
"""Operations from here on belong to the maker of the board, and so do subclasses from 80 and classes that have no name here."""


@dataclass(frozen=True, slots=True)
class StatusValue:
    """Bits 31:24, 23:16 and 15:0 of the value, and all three in words."""

    klass: int
    subclass: int
    operation: int
    words: str


def decode_status(value: int) -> StatusValue:
    """The parts of a 32-bit status value; ValueError when it has more bits."""
    if not 0 <= value <= 0xFFFFFFFF:
        raise ValueError(f"{value} is no 32-bit status value")
    klass, subclass, operation = value >> 24, value >> 16 & 0xFF, value & 0xFFFF
    return StatusValue(klass, subclass, operation, f"{_class(klass)}, {_subclass(klass, subclass)}, {_operation(operation)}")


def _class(klass: int) -> str:
    return CLASSES.get(klass, f"class {klass:02X} that the specification does not name")


def _subclass(klass: int, subclass: int) -> str:
    names = SUBCLASSES.get(klass, ())
    if subclass < len(names):
        return names[subclass]
    return f"subclass {subclass:02X} of the board's maker" if subclass >= 0x80 else f"subclass {subclass:02X}"


def _operation(operation: int) -> str:
    if operation >= OEM:
        return f"operation {operation:04X} of the board's maker"
    if operation >= SPECIFIC:
        return f"operation {operation:04X} of this subclass"
    return f"operation {operation:04X} of this class"
