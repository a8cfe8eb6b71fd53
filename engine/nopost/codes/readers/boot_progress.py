"""Boot progress of a computer system in the words of Redfish (BootProgress, LastState; DMTF DSP8010), in plain lines.

`redfish` reads the same states from JSON.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading, EventOrder
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
