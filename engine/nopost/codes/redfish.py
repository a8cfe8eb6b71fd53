"""Redfish: log entries with BIOS POST codes, and the BootProgress of a computer system (DMTF DSP0266, DSP8010).

A POST-code entry has a `MessageId` that ends in BIOSPOSTCode (message registry of the OpenBMC project) and three `MessageArgs`:
number of the start, 1 the newest; seconds since its first code; 0x and the code's bytes in stored order. The prose is not read.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from nopost.codes.event import Event, Form, Order, Reading
from nopost.codes.ordering import arrange
from nopost.codes.post_entries import Entry, entry_reading
from nopost.codes.timestamps import DATED, Line, read_iso

MESSAGE = "BIOSPOSTCode"
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

_ARGS = re.compile(
    r'"MessageArgs"\s{0,99}:\s{0,99}\[\s{0,99}"([^"\\]{0,40})"\s{0,99},\s{0,99}"([^"\\]{0,40})"\s{0,99},\s{0,99}"([^"\\]{0,80})"'
)
_LAST = re.compile(r'"?\bLastState"?\s{0,20}[:=]\s{0,20}"?([A-Za-z]{1,60})')
_QUOTED = re.compile(r'"LastState"\s{0,20}:\s{0,20}"([A-Za-z]{1,60})"')
_BARE = re.compile(r"\b(" + "|".join(state for state in STATES if len(state) > 8) + r")\b")
_ID = re.compile(r"B(\d{1,9})-(\d{1,9})")


class Parsed(NamedTuple):
    """What JSON there is. `cut`: where in the text the reading of it ended early, or -1."""

    values: list[Any]
    cut: int


def read_redfish(text: str, asked: Order | None = None) -> list[Reading]:
    """POST-code entries and boot states of a text; empty when it has neither."""
    if not ("MessageArgs" in text or "LastState" in text or "BootProgress" in text or "@odata" in text):
        return []
    parsed = parse_json(text)
    objects = [item for value in parsed.values for item in _objects(value)]
    rest = text[parsed.cut :] if parsed.cut >= 0 else ""
    return [r for r in (_post_codes(objects, rest), _states(objects, rest, asked)) if r]


def parse_json(text: str) -> Parsed:
    """JSON values one after another (a page, pages, lines); ends at the first thing that is none."""
    values: list[Any] = []
    decoder = json.JSONDecoder()
    position, end = 0, len(text)
    while position < end:
        while position < end and text[position] in " \t\r\n,\ufeff\x1e\0":
            position += 1
        if position >= end:
            break
        try:
            value, position = decoder.raw_decode(text, position)
        except (ValueError, RecursionError):
            return Parsed(values, position)
        if not isinstance(value, dict | list):
            return Parsed(values, position)
        values.append(value)
    return Parsed(values, -1)


def _objects(value: Any) -> Iterator[dict[str, Any]]:
    """All objects in a JSON value, outer ones first, in the order of the text."""
    stack = [value]
    while stack:
        item = stack.pop()
        if isinstance(item, dict):
            yield item
            stack.extend(v for v in reversed(item.values()) if isinstance(v, dict | list))
        elif isinstance(item, list):
            stack.extend(v for v in reversed(item) if isinstance(v, dict | list))


def _post_codes(objects: list[dict[str, Any]], rest: str) -> Reading | None:
    entries: list[Entry] = []
    others = 0
    for item in objects:
        if _is_post_code(item):
            entries.append(_entry(item))
        elif "EntryType" in item and "Members" not in item:
            others += 1
    cut = len(entries)
    entries += [Entry(found[1], found[2], found[3], "", None, None) for found in _ARGS.finditer(rest)]
    notes = []
    if others and entries:
        notes.append(f"Log entries without a POST code left out: {others}.")
    if len(entries) > cut:
        notes.append("The JSON text is not whole; what could be found in it was read.")
    return entry_reading(entries, notes) if entries else None


def _is_post_code(item: Mapping[str, Any]) -> bool:
    message = item.get("MessageId")
    args = item.get("MessageArgs")
    if not (isinstance(message, str) and message.rpartition(".")[2] == MESSAGE and isinstance(args, list)):
        return False
    return len(args) >= 3 and all(isinstance(arg, str | int | float) for arg in args[:3])


def _entry(item: Mapping[str, Any]) -> Entry:
    boot, seconds, code = (str(arg)[:80] for arg in item["MessageArgs"][:3])
    name = item["Id"][:40] if isinstance(item.get("Id"), str) else ""
    found = _ID.fullmatch(name)
    created = item.get("Created")
    at = read_iso(created) if isinstance(created, str) else None
    return Entry(boot if boot.isdigit() or not found else found[1], seconds, code, name, int(found[2]) if found else None, at)


def _states(objects: list[dict[str, Any]], rest: str, asked: Order | None) -> Reading | None:
    """Events of the states, one for each BootProgress object."""
    seen: list[tuple[str, float | None]] = []
    oem: list[str] = []
    for item in objects:
        state, time = item.get("LastState"), item.get("LastStateTime")
        if isinstance(state, str):
            seen.append((state, read_iso(time) if isinstance(time, str) else None))
            if state == "OEM" and isinstance(item.get("OemLastState"), str):
                oem.append(item["OemLastState"][:60])
    seen += [(found[1], None) for found in _QUOTED.finditer(rest)]
    events = [Event(state, at) for state, at in seen if state in STATES]
    if not events:
        return None
    notes = [f"The maker's own state is called {', '.join(oem[:5])!r}."] if oem else []
    if len(events) < len(seen):
        notes.append(f"States that are not in the standard left out: {len(seen) - len(events)}.")
    return _reading(events, notes, asked, DATED if all(e.at is not None for e in events) else "")


def may_state(text: str) -> bool:
    """A quick look whether a text can have state names."""
    return "LastState" in text or any(state in text for state in STATES if len(state) > 8)


def read_state_words(lines: Sequence[Line], asked: Order | None = None) -> Reading | None:
    """State names of the standard in plain lines, one a line (the short ones None and OEM only after LastState)."""
    seen: list[tuple[Line, str]] = []
    for line in lines:
        found = _BARE.search(line.rest) or _LAST.search(line.rest)
        if found and found[1] in STATES:
            seen.append((line, found[1]))
    clock = max((line.clock for line, _ in seen), default="")
    events = [Event(state, line.at, line=line.number) for line, state in seen]
    return _reading(events, [], asked, clock, [line.running for line, _ in seen]) if events else None


def _reading(
    events: Sequence[Event], notes: Sequence[str], asked: Order | None, clock: str, indexes: Sequence[int | None] = ()
) -> Reading:
    certain = Order.OLDEST_FIRST if len(events) == 1 else None
    done = arrange(events, asked=asked, clock=clock, indexes=indexes, certain=certain)
    return Reading(Form.STATES, "Redfish boot progress", done.events, done.order, done.given, (*notes, *done.notes))
