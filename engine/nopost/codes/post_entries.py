"""Redfish POST-code entries put in order: starts, oldest first, and within each its codes by time."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple

from nopost.codes.event import Event, Form, Order, Reading
from nopost.codes.sbmr import SIZE as RECORD
from nopost.codes.sbmr import is_record, record_event
from nopost.codes.words import narrow

WIDTHS = (1, 2, 4, 8)
"""Sizes of a code in bytes; the low byte comes first."""


class Entry(NamedTuple):
    """One entry as written: boot (1 is the newest), seconds, code; its id and number, and when it was created, in seconds."""

    boot: str
    seconds: str
    code: str
    id: str
    number: int | None
    created: float | None


class _Read(NamedTuple):
    boot: int
    seconds: float | None
    number: int
    created: float | None
    event: Event


def entry_reading(entries: Sequence[Entry], notes: list[str]) -> Reading | None:
    """A reading of the entries, doubled ones taken once."""
    unique = list(dict.fromkeys(entries))
    if len(unique) < len(entries):
        notes.append(f"Entries that stand twice, taken once: {len(entries) - len(unique)}.")
    wide = odd = 0
    read: list[_Read] = []
    for place, entry in enumerate(unique):
        event, cut = _event(entry.code)
        if event is None:
            odd += 1
            continue
        wide += cut
        number = place if entry.number is None else entry.number
        read.append(
            _Read(int(entry.boot) if entry.boot.isdecimal() else 1, _seconds(entry.seconds), number, entry.created, event)
        )
    if odd:
        notes.append(f"Entries with a code of an unknown form left out: {odd}.")
    if wide:
        notes.append(f"Codes longer than 32 bits, of which the low 32 bits were taken: {wide}.")
    if not read:
        return None
    events = _timed(read, notes)
    return Reading(Form.HEX, "Redfish POST code log", tuple(events), Order.OLDEST_FIRST, True, tuple(notes), odd)


def _seconds(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) and value >= 0 else None


def _event(text: str) -> tuple[Event | None, bool]:
    """The event of a code's bytes in stored order, and whether bits were lost."""
    try:
        data = bytes.fromhex(text[2:] if text[:2] in ("0x", "0X") else text)
    except ValueError:
        return None, False
    if len(data) == RECORD and is_record(data):
        return record_event(data), False
    if len(data) not in WIDTHS:
        return None, False
    value = int.from_bytes(data, "little")
    return Event(narrow(value, 2)), value > 0xFFFFFFFF


def _timed(read: list[_Read], notes: list[str]) -> list[Event]:
    """Sort, number the starts from the oldest, and give all events one clock."""
    by_created = all(r.created is not None for r in read)
    by_seconds = all(r.seconds is not None for r in read)
    key: Callable[[_Read], tuple[float, ...]] = lambda r: (  # noqa: E731
        -r.boot,
        (r.seconds if by_seconds else r.created if by_created else 0.0) or 0.0,
        r.number,
    )
    ordered = sorted(read, key=key)
    if ordered != read:
        notes.append("The entries were sorted by start and time; in the log start 1 is the newest, here it is the oldest.")
    rank = {boot: n for n, boot in enumerate(sorted({r.boot for r in read}, reverse=True), 1)}
    times = _clock(ordered, by_created, by_seconds, notes)
    return [replace(r.event, at=at, boot=rank[r.boot]) for r, at in zip(ordered, times, strict=True)]


def _clock(ordered: Sequence[_Read], by_created: bool, by_seconds: bool, notes: list[str]) -> list[float | None]:
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


def _rises(ordered: Sequence[_Read]) -> list[bool]:
    return [(a.created or 0.0) <= (b.created or 0.0) for a, b in pairwise(ordered)]
