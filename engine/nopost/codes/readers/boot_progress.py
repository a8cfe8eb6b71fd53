"""Boot progress by two standards: Redfish's words, and the status codes of Arm SBMR records.

Redfish (BootProgress, LastState; DMTF DSP8010) in plain lines; `redfish` reads the same states from JSON.

Records of Arm SBMR 2.0, section F, which carry 32-bit UEFI status values.

A record is 9 bytes: status-code type u32, value u32, instance u8, low byte first. Type and value are the status codes of
the UEFI Platform Initialization (PI) specification 1.8, volume 3: the low byte of the type is 1 progress, 2 error, 3
debug; its top byte is the severity. What a value is made of says `nopost.codes.status_value`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading, EventOrder
from nopost.codes.readers.hex_codes import byte_rows, records
from nopost.codes.readers.source_text import LogLine, SourceText
from nopost.codes.readers.timestamps import ClockKind, highest_clock, order_events

STATES = (
    "None",
    "PrimaryProcessorInitializationStarted",
    "BusInitializationStarted",
    "MemoryInitializationStarted",
    "SecondaryProcessorInitializationStarted",
    "PCIResourceConfigStarted",
    "SystemHardwareInitializationComplete",
    "SetupEntered",
    "OSBootStarted",
    "OSRunning",
    "OEM",
)
"""The states of the standard."""
LONG_STATES = tuple(state for state in STATES if len(state) > 8)
"""Those that are no words of plain English."""
_LAST = re.compile(r'"?\bLastState"?\s{0,20}[:=]\s{0,20}"?([A-Za-z]{1,60})')
_BARE = re.compile(r"\b(" + "|".join(LONG_STATES) + r")\b")


def read_boot_progress(source: SourceText) -> list[CodeReading]:
    """State names of the standard in plain lines, one a line (the short ones None and OEM only after LastState)."""
    seen: list[tuple[LogLine, str]] = []
    for line in source.lines:
        found = _BARE.search(line.rest) or _LAST.search(line.rest)
        if found and found[1] in STATES:
            seen.append((line, found[1]))
    clock = highest_clock(line.clock for line, _ in seen)
    events = [CodeEvent(state, line.at, line=line.number) for line, state in seen]
    if not events:
        return []
    return [boot_progress_reading(events, [], source.order, clock, [line.running for line, _ in seen])]


def boot_progress_reading(
    events: Sequence[CodeEvent],
    notes: Sequence[str],
    asked: EventOrder | None,
    clock: ClockKind | None,
    indexes: Sequence[int | None] = (),
) -> CodeReading:
    """The reading of states, put in order of time. `indexes`: running number of each, where lines have them."""
    certain = EventOrder.OLDEST_FIRST if len(events) == 1 else None
    done = order_events(events, asked=asked, clock=clock, indexes=indexes, certain=certain)
    return CodeReading(CodeForm.STATES, "Redfish boot progress", done.events, done.order, done.given, (*notes, *done.notes))


RECORD_SIZE = 9
LEAST_SHARE = 0.8
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


def read_sbmr(source: SourceText) -> list[CodeReading]:
    """Records as raw bytes, or as rows of hexadecimal digits; empty when most of it is no such record."""
    raw, lines = source.raw, [] if source.raw is not None else source.lines
    if raw is not None:
        found = [(0, raw[k : k + RECORD_SIZE]) for k in range(0, len(raw) - len(raw) % RECORD_SIZE, RECORD_SIZE)] if raw else []
    else:
        rows = byte_rows((i, line.rest) for i, line in enumerate(lines))
        found = records(rows, RECORD_SIZE) if rows else []
    if not found or sum(is_record(data) for _, data in found) < LEAST_SHARE * len(found):
        return []
    reading = _reading(found, lines, source.order)
    return [reading] if reading else []


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
    done = order_events(events, asked=asked, clock=highest_clock(line.clock for line in lines), indexes=indexes)
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
