"""Time stamps: read one at the front of a line, and put events in order of time by them.

Every pattern is anchored, its repeats are bounded, and no two of them can match the same characters in two ways: the time
is linear in the text. `order_events` turns events oldest first: by what was asked, by time stamps, by running numbers.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import IntEnum
from itertools import pairwise

from nopost.codes.code_events import CodeEvent, EventOrder

DAY = 86_400.0
_EPOCH = date(1970, 1, 1).toordinal()


class ClockKind(IntEnum):
    """What a time stamp counts. Where a text has stamps of several kinds, the highest one is taken for all."""

    TIME_OF_DAY = 1
    """Starts again at midnight."""
    DATED = 2
    """Date and time."""
    SINCE_START = 3
    """Seconds since something that may start again, such as a boot."""


def highest_clock(clocks: Iterable[ClockKind | None]) -> ClockKind | None:
    """The highest kind of clock among those of some lines; None when no line has a time stamp."""
    return max((clock for clock in clocks if clock is not None), default=None)


_END = r"\s{0,4}[\])>]?(?:\s{0,4}[|,;:=-]{1,2}(?!\d)|(?=[\s|,;]))"
_DATED = re.compile(
    r"[\[(<]?\s{0,8}(\d{4})[-/.](\d\d)[-/.](\d\d)[T _,]{1,2}(\d\d):(\d\d)(?::(\d\d)(?:[.,](\d{1,9}))?)?"
    r"(?:\s?(Z|UTC|[+-]\d\d:?\d\d))?" + _END
)
_CLOCK = re.compile(r"[\[(<]?\s{0,8}(?:(\d{1,3}):)?(\d{1,3}):([0-5]\d)(?:[.,](\d{1,9}))?" + _END)
SECONDS_PATTERN = re.compile(r"[\[(<]?\s{0,12}\+?(\d{1,12})(?:\.(\d{1,9}))?(?:\s?(us|ms|s|sec|seconds?)(?!\w))?" + _END)
_UNITS = {"us": 1e-6, "ms": 1e-3}


def since_epoch(year: int, month: int, day: int, seconds: float) -> float | None:
    """Seconds since 1970 of a moment of a day, or None when there is no such day."""
    try:
        return (date(year, month, day).toordinal() - _EPOCH) * DAY + seconds
    except ValueError:
        return None


def read_iso(text: str) -> float | None:
    """Seconds since 1970 of an ISO 8601 moment, or None."""
    found = _DATED.match(text[:64] + " ")
    return _dated(found) if found else None


def _fraction(digits: str | None) -> float:
    return float("0." + digits) if digits else 0.0


def _dated(found: re.Match[str]) -> float | None:
    year, month, day, hour, minute, second, fraction, zone = found.groups()
    seconds = int(hour) * 3600 + int(minute) * 60 + int(second or 0)
    if zone and zone[0] in "+-":
        minutes = int(zone[1:3]) * 60 + int(zone[-2:])
        seconds -= minutes * 60 if zone[0] == "+" else -minutes * 60
    return since_epoch(int(year), int(month), int(day), seconds + _fraction(fraction))


def _clock(found: re.Match[str]) -> tuple[float, ClockKind] | None:
    hours, minutes, seconds, fraction = found.groups()
    if hours is not None and int(minutes) > 59:
        return None
    at = int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds) + _fraction(fraction)
    return at, ClockKind.TIME_OF_DAY if hours and int(hours) < 24 else ClockKind.SINCE_START


def read_stamp(text: str) -> tuple[float, ClockKind, int] | None:
    """(seconds, kind, where it ends) of a time stamp at the very front of a text with something after it."""
    found = _DATED.match(text)
    if found and (at := _dated(found)) is not None:
        return at, ClockKind.DATED, found.end()
    found = _CLOCK.match(text)
    if found and (clock := _clock(found)):
        return *clock, found.end()
    found = SECONDS_PATTERN.match(text)
    if found and (found[2] or found[3]):
        return (int(found[1]) + _fraction(found[2])) * _UNITS.get(found[3], 1.0), ClockKind.SINCE_START, found.end()
    return None


LEAST_MAJORITY = 2 / 3
"""Share of the steps of time that must go one way to say the order."""


@dataclass(frozen=True, slots=True)
class OrderedEvents:
    """Events oldest first, how the text had them, whether that is known, and what was guessed."""

    events: tuple[CodeEvent, ...]
    order: EventOrder
    given: bool
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Steps:
    ups: int
    downs: int

    @property
    def order(self) -> EventOrder | None:
        total = self.ups + self.downs
        if total and self.ups >= LEAST_MAJORITY * total:
            return EventOrder.OLDEST_FIRST
        return EventOrder.NEWEST_FIRST if total and self.downs >= LEAST_MAJORITY * total else None


def order_events(
    events: Sequence[CodeEvent],
    *,
    asked: EventOrder | None = None,
    clock: ClockKind | None = None,
    indexes: Sequence[int | None] = (),
    certain: EventOrder | None = None,
) -> OrderedEvents:
    """Put events in the order of time.

    `clock`: kind of the time stamps; `indexes`: running number per event; `certain`: the order the format itself lays down.
    """
    steps = _steps([e.at for e in events], clock)
    by_index = _steps(indexes, None).order
    known = steps.order or by_index or certain
    if not asked and clock is ClockKind.DATED and steps.ups and steps.downs and not steps.order:
        return _sorted(events)
    order = asked or known or EventOrder.OLDEST_FIRST
    ordered = list(events) if order is EventOrder.OLDEST_FIRST else list(events)[::-1]
    given = asked is not None or known is not None
    if steps.ups + steps.downs and steps.order is not order:
        return OrderedEvents(_untimed(ordered), order, given, ("The time stamps do not fit this order and were left out.",))
    timed, notes = _straighten(ordered, clock)
    return OrderedEvents(timed, order, given, notes)


def _steps(values: Sequence[float | None], clock: ClockKind | None) -> _Steps:
    ups = downs = 0
    known = [v for v in values if v is not None]
    for before, after in pairwise(known):
        step = after - before
        if clock is ClockKind.TIME_OF_DAY and abs(step) > DAY / 2:
            step = -step  # past midnight
        ups += step > 0
        downs += step < 0
    return _Steps(ups, downs)


def _untimed(events: Sequence[CodeEvent]) -> tuple[CodeEvent, ...]:
    return tuple(e if e.at is None else replace(e, at=None) for e in events)


def _sorted(events: Sequence[CodeEvent]) -> OrderedEvents:
    """Dated events that jump to and fro: by date; those without a date stay behind the one before them."""
    last, keys = 0.0, []
    for event in events:
        last = last if event.at is None else event.at
        keys.append(last)
    places = sorted(range(len(events)), key=keys.__getitem__)
    ordered, _ = _straighten([events[i] for i in places], ClockKind.DATED)
    return OrderedEvents(
        ordered, EventOrder.OLDEST_FIRST, True, ("The lines were not in the order of their time stamps and were sorted.",)
    )


def _straighten(events: Sequence[CodeEvent], clock: ClockKind | None) -> tuple[tuple[CodeEvent, ...], tuple[str, ...]]:
    """Make the times rise from nought on: past midnight, and over clocks that start again with each start-up."""
    origin = next((e.at for e in events if e.at is not None), 0.0) if clock in (ClockKind.DATED, ClockKind.TIME_OF_DAY) else 0.0
    shift, last, starts = -origin, -origin, 1
    result: list[tuple[CodeEvent, float | None, int]] = []
    for event in events:
        at = None if event.at is None else event.at + shift
        if at is not None and event.at is not None and at < last and result:
            if clock is ClockKind.TIME_OF_DAY:
                shift += DAY
            elif clock is ClockKind.SINCE_START:
                shift, starts = last, starts + 1
            else:
                shift = last - event.at  # the clock was set back
            at = event.at + shift
        last = last if at is None else at
        result.append((event, at, starts))
    if starts > 1:
        note = f"The time stamps begin anew {starts - 1} times: read as {starts} start-ups; the time between them is not known."
        return tuple(_timed(e, at, e.boot or boot) for e, at, boot in result), (note,)
    return tuple(e if at is None else _timed(e, at, e.boot) for e, at, _ in result), ()


def _timed(event: CodeEvent, at: float | None, boot: int | None) -> CodeEvent:
    # written out: dataclasses.replace takes twice as long, 0.4 s more for 100,000 events
    rounded = None if at is None else round(at, 6)
    return CodeEvent(event.code, rounded, boot, event.kind, event.status, event.count, event.line)
