"""Redfish: log entries with BIOS POST codes, and the BootProgress of a computer system (DMTF DSP0266, DSP8010).

A POST-code entry has a `MessageId` that ends in BIOSPOSTCode (message registry of the OpenBMC project) and three
`MessageArgs`: number of the start, 1 the newest; seconds since its first code; 0x and the code's bytes in stored order.
The prose is not read. Entries are put in order: starts, oldest first, and within each its codes by time.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any, NamedTuple

from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading, EventOrder
from nopost.codes.readers.boot_progress import RECORD_SIZE, STATES, boot_progress_reading, is_record, record_event
from nopost.codes.readers.source_text import SourceText
from nopost.codes.readers.timestamps import ClockKind, read_iso
from nopost.codes.readers.tokens import padded_hex

WIDTHS = (1, 2, 4, 8)
"""Sizes of a code in bytes; the low byte comes first."""


class PostCodeEntry(NamedTuple):
    """One entry as written: boot (1 is the newest), seconds, code; its id and number, and when it was created, in seconds."""

    boot: str
    seconds: str
    code: str
    id: str
    number: int | None
    created: float | None


class _TimedEntry(NamedTuple):
    boot: int
    seconds: float | None
    number: int
    created: float | None
    event: CodeEvent


def entry_reading(entries: Sequence[PostCodeEntry], notes: list[str]) -> CodeReading | None:
    """A reading of the entries, doubled ones taken once."""
    unique = list(dict.fromkeys(entries))
    if len(unique) < len(entries):
        notes.append(f"Entries that stand twice, taken once: {len(entries) - len(unique)}.")
    wide = odd = 0
    read: list[_TimedEntry] = []
    for place, entry in enumerate(unique):
        event, cut = _event(entry.code)
        if event is None:
            odd += 1
            continue
        wide += cut
        number = place if entry.number is None else entry.number
        read.append(
            _TimedEntry(int(entry.boot) if entry.boot.isdecimal() else 1, _seconds(entry.seconds), number, entry.created, event)
        )
    if odd:
        notes.append(f"Entries with a code of an unknown form left out: {odd}.")
    if wide:
        notes.append(f"Codes longer than 32 bits, of which the low 32 bits were taken: {wide}.")
    if not read:
        return None
    events = _timed(read, notes)
    return CodeReading(CodeForm.HEX, "Redfish POST code log", tuple(events), EventOrder.OLDEST_FIRST, True, tuple(notes), odd)


def _seconds(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) and value >= 0 else None


def _event(text: str) -> tuple[CodeEvent | None, bool]:
    """The event of a code's bytes in stored order, and whether bits were lost."""
    try:
        data = bytes.fromhex(text[2:] if text[:2] in ("0x", "0X") else text)
    except ValueError:
        return None, False
    if len(data) == RECORD_SIZE and is_record(data):
        return record_event(data), False
    if len(data) not in WIDTHS:
        return None, False
    value = int.from_bytes(data, "little")
    return CodeEvent(padded_hex(value, 2)), value > 0xFFFFFFFF


def _timed(read: list[_TimedEntry], notes: list[str]) -> list[CodeEvent]:
    """Sort, number the starts from the oldest, and give all events one clock."""
    by_created = all(r.created is not None for r in read)
    by_seconds = all(r.seconds is not None for r in read)

    def place(entry: _TimedEntry) -> tuple[float, ...]:
        at = entry.seconds if by_seconds else entry.created if by_created else None
        return -entry.boot, at or 0.0, entry.number

    ordered = sorted(read, key=place)
    if ordered != read:
        notes.append("The entries were sorted by start and time; in the log start 1 is the newest, here it is the oldest.")
    rank = {boot: n for n, boot in enumerate(sorted({r.boot for r in read}, reverse=True), 1)}
    times = _clock(ordered, by_created, by_seconds, notes)
    return [replace(r.event, at=at, boot=rank[r.boot]) for r, at in zip(ordered, times, strict=True)]


def _clock(ordered: Sequence[_TimedEntry], by_created: bool, by_seconds: bool, notes: list[str]) -> list[float | None]:
    if by_created and all(_rises(ordered)):
        origin = ordered[0].created or 0.0
        return [round((r.created or 0.0) - origin, 6) for r in ordered]
    if not by_seconds:
        return [None] * len(ordered)
    times: list[float | None] = []
    shift = last = 0.0
    for before, r in zip([ordered[0], *ordered], ordered, strict=False):
        shift = last if before.boot != r.boot else shift
        last = shift + (r.seconds or 0.0)
        times.append(round(last, 6))
    if ordered[0].boot != ordered[-1].boot:
        notes.append("The time between the starts is not known.")
    return times


def _rises(ordered: Sequence[_TimedEntry]) -> list[bool]:
    return [(a.created or 0.0) <= (b.created or 0.0) for a, b in pairwise(ordered)]


MESSAGE = "BIOSPOSTCode"
_ARGS = re.compile(
    r'"MessageArgs"\s{0,99}:\s{0,99}\[\s{0,99}"([^"\\]{0,40})"\s{0,99},\s{0,99}"([^"\\]{0,40})"\s{0,99},\s{0,99}"([^"\\]{0,80})"'
)
_QUOTED = re.compile(r'"LastState"\s{0,20}:\s{0,20}"([A-Za-z]{1,60})"')
_ID = re.compile(r"B(\d{1,9})-(\d{1,9})")


class ParsedJson(NamedTuple):
    """What JSON there is. `cut`: where in the text the reading of it ended early, or -1."""

    values: list[Any]
    cut: int


def read_redfish(source: SourceText) -> list[CodeReading]:
    """POST-code entries and boot states of JSON; empty when it has neither."""
    parsed = parse_json(source.text)
    objects = [item for value in parsed.values for item in _objects(value)]
    rest = source.text[parsed.cut :] if parsed.cut >= 0 else ""
    return [r for r in (_post_codes(objects, rest), _states(objects, rest, source.order)) if r]


def parse_json(text: str) -> ParsedJson:
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
            return ParsedJson(values, position)
        if not isinstance(value, dict | list):
            return ParsedJson(values, position)
        values.append(value)
    return ParsedJson(values, -1)


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


def _post_codes(objects: list[dict[str, Any]], rest: str) -> CodeReading | None:
    entries: list[PostCodeEntry] = []
    others = 0
    for item in objects:
        if _is_post_code(item):
            entries.append(_entry(item))
        elif "EntryType" in item and "Members" not in item:
            others += 1
    cut = len(entries)
    entries += [PostCodeEntry(found[1], found[2], found[3], "", None, None) for found in _ARGS.finditer(rest)]
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


def _entry(item: Mapping[str, Any]) -> PostCodeEntry:
    boot, seconds, code = (str(arg)[:80] for arg in item["MessageArgs"][:3])
    name = item["Id"][:40] if isinstance(item.get("Id"), str) else ""
    found = _ID.fullmatch(name)
    created = item.get("Created")
    at = read_iso(created) if isinstance(created, str) else None
    return PostCodeEntry(
        boot if boot.isdigit() or not found else found[1], seconds, code, name, int(found[2]) if found else None, at
    )


def _states(objects: list[dict[str, Any]], rest: str, asked: EventOrder | None) -> CodeReading | None:
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
    events = [CodeEvent(state, at) for state, at in seen if state in STATES]
    if not events:
        return None
    notes = [f"The maker's own state is called {', '.join(oem[:5])!r}."] if oem else []
    if len(events) < len(seen):
        notes.append(f"States that are not in the standard left out: {len(seen) - len(events)}.")
    return boot_progress_reading(events, notes, asked, ClockKind.DATED if all(e.at is not None for e in events) else None)
