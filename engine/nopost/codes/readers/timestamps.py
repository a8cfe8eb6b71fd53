"""Time stamps: take them and line numbers off the front of lines, and put events in order of time by them.

`read_lines` takes both away, so that the readers of codes, beeps and lamps see only the rest. Every pattern is anchored,
its repeats are bounded, and no two of them can match the same characters in two ways: the time is linear in the text.
`order_events` turns events oldest first: by what was asked, by time stamps, by running numbers.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import NamedTuple

from nopost.codes.code_events import CodeEvent, EventOrder

MAX_LINES = 100_000
DAY = 86_400.0
_EPOCH = date(1970, 1, 1).toordinal()

DATED, CLOCK, SINCE = "dated", "clock", "since"
"""Kinds of stamp: date and time; time of day; seconds since something that may start again."""

_END = r"\s{0,4}[\])>]?(?:\s{0,4}[|,;:=-]{1,2}(?!\d)|(?=[\s|,;]))"
_DATED = re.compile(
    r"[\[(<]?\s{0,8}(\d{4})[-/.](\d\d)[-/.](\d\d)[T _,]{1,2}(\d\d):(\d\d)(?::(\d\d)(?:[.,](\d{1,9}))?)?"
    r"(?:\s?(Z|UTC|[+-]\d\d:?\d\d))?" + _END
)
_CLOCK = re.compile(r"[\[(<]?\s{0,8}(?:(\d{1,3}):)?(\d{1,3}):([0-5]\d)(?:[.,](\d{1,9}))?" + _END)
_SECONDS = re.compile(r"[\[(<]?\s{0,12}\+?(\d{1,12})(?:\.(\d{1,9}))?(?:\s?(us|ms|s|sec|seconds?)(?!\w))?" + _END)
_UNITS = {"us": 1e-6, "ms": 1e-3}
_NUMBER = re.compile(r"(#?)(\d{1,9})(\s{0,4}[:.)\]|]\s{0,8}|\s{0,4},\s{0,8}|\s{1,8})(?=\S)")
_FRONT = frozenset("0123456789[(<+#")
_ESCAPES = re.compile("\x1b\\[[0-9;?]{0,24}[A-Za-z]|[\0-\x08\x0e-\x1b\x7f\ufeff]")


class LogLine(NamedTuple):
    """One line that is not blank. `number` counts from 1; `at` in seconds; `clock`: kind of stamp; `running`: number."""

    number: int
    rest: str
    at: float | None = None
    clock: str = ""
    running: int | None = None


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


def _clock(found: re.Match[str]) -> tuple[float, str] | None:
    hours, minutes, seconds, fraction = found.groups()
    if hours is not None and int(minutes) > 59:
        return None
    at = int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds) + _fraction(fraction)
    return at, CLOCK if hours and int(hours) < 24 else SINCE


def read_stamp(text: str) -> tuple[float, str, int] | None:
    """(seconds, kind, where it ends) of a time stamp at the very front of a text with something after it."""
    found = _DATED.match(text)
    if found and (at := _dated(found)) is not None:
        return at, DATED, found.end()
    found = _CLOCK.match(text)
    if found and (clock := _clock(found)):
        return *clock, found.end()
    found = _SECONDS.match(text)
    if found and (found[2] or found[3]):
        return (int(found[1]) + _fraction(found[2])) * _UNITS.get(found[3], 1.0), SINCE, found.end()
    return None


def _stamped(line: LogLine) -> LogLine:
    stamp = read_stamp(line.rest) if line.at is None else None
    rest = line.rest[stamp[2] :].strip() if stamp else ""
    return line._replace(rest=rest, at=stamp[0], clock=stamp[1]) if stamp and rest else line


def read_lines(text: str) -> tuple[list[LogLine], list[str]]:
    """The lines that are not blank, without stamps and running numbers, and notes about what was taken for such."""
    plain = _ESCAPES.sub("", text)
    rows = [(n, s) for n, line in enumerate(plain.splitlines(), 1) if (s := line.strip())]
    notes = []
    if len(rows) > MAX_LINES:
        notes.append(f"Only the last {MAX_LINES} of {len(rows)} lines were read.")
        rows = rows[-MAX_LINES:]
    lines = [_stamped(LogLine(n, s)) if s[0] in _FRONT else LogLine(n, s) for n, s in rows]
    if 2 * sum(line.clock == SINCE for line in lines) > len(lines):
        lines = [_whole_second(line) for line in lines]
    lines, said = _take_column(lines)
    return lines, notes + said


def _whole_second(line: LogLine) -> LogLine:
    """A whole number in front, among lines that mostly begin with a fraction of a second, is a time too."""
    found = _SECONDS.match(line.rest) if line.at is None else None
    rest = line.rest[found.end() :].strip() if found else ""
    return line._replace(rest=rest, at=float(found[1]), clock=SINCE) if found and rest else line


def _take_column(lines: list[LogLine]) -> tuple[list[LogLine], list[str]]:
    """Take away a first column that counts the lines, or tells milliseconds."""
    found = [_NUMBER.match(line.rest) if line.rest[0] in _FRONT else None for line in lines]
    values = [int(m[2]) for m in found if m]
    if len(values) < 2 or len(values) < 0.6 * len(lines):
        return lines, []
    marked = all(m[1] or m[3].strip() not in ("", ",") for m in found if m)
    rests = [line.rest[m.end() :] for line, m in zip(lines, found, strict=True) if m]
    if len(values) >= (2 if marked else 3) and _counts(values) and (marked or min(values) <= 1 or _narrow(rests)):
        taken = [_cut(line, m, index=True) for line, m in zip(lines, found, strict=True)]
        return [_stamped(line) for line in taken], ["The first column counts by one and was taken for line numbers."]
    if not any(line.clock for line in lines) and _tells_time(values, rests):
        taken = [_cut(line, m, index=False) for line, m in zip(lines, found, strict=True)]
        return taken, ["The first column only rises or only falls and was taken for milliseconds."]
    return lines, []


def _cut(line: LogLine, found: re.Match[str] | None, *, index: bool) -> LogLine:
    if not found:
        return line
    rest, value = line.rest[found.end() :], int(found[2])
    return line._replace(rest=rest, running=value) if index else line._replace(rest=rest, at=value / 1000, clock=SINCE)


def _counts(values: Sequence[int]) -> bool:
    steps = [b - a for a, b in pairwise(values)]
    return max(steps.count(1), steps.count(-1)) >= 0.9 * len(steps)


def _tells_time(values: Sequence[int], rests: Sequence[str]) -> bool:
    """Whether numbers look like milliseconds: never turning, not small, and before something that is no decimal number."""
    if len(values) < 3 or max(values) < 1000 or len(set(values)) < 3 or all(rest.isdigit() for rest in rests):
        return False
    pairs = list(pairwise(values))
    if not (all(a <= b for a, b in pairs) or all(a >= b for a, b in pairs)):
        return False
    return _narrow(rests)


def _narrow(rests: Sequence[str]) -> bool:
    """Whether no more than two words follow the column in nearly every line."""
    return sum(len(rest.split(None, 3)) <= 2 for rest in rests) >= 0.9 * len(rests)


MAJORITY = 2 / 3
"""So many of the steps of time must go one way to say the order."""


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
        if total and self.ups >= MAJORITY * total:
            return EventOrder.OLDEST_FIRST
        return EventOrder.NEWEST_FIRST if total and self.downs >= MAJORITY * total else None


def order_events(
    events: Sequence[CodeEvent],
    *,
    asked: EventOrder | None = None,
    clock: str = "",
    indexes: Sequence[int | None] = (),
    certain: EventOrder | None = None,
) -> OrderedEvents:
    """Put events in the order of time.

    `clock`: kind of the time stamps; `indexes`: running number per event; `certain`: the order the format itself lays down.
    """
    steps = _steps([e.at for e in events], clock)
    by_index = _steps(indexes, "").order
    known = steps.order or by_index or certain
    if not asked and clock == DATED and steps.ups and steps.downs and not steps.order:
        return _sorted(events)
    order = asked or known or EventOrder.OLDEST_FIRST
    ordered = list(events) if order is EventOrder.OLDEST_FIRST else list(events)[::-1]
    given = asked is not None or known is not None
    if steps.ups + steps.downs and steps.order is not order:
        return OrderedEvents(_untimed(ordered), order, given, ("The time stamps do not fit this order and were left out.",))
    timed, notes = _straighten(ordered, clock)
    return OrderedEvents(timed, order, given, notes)


def _steps(values: Sequence[float | None], clock: str) -> _Steps:
    ups = downs = 0
    known = [v for v in values if v is not None]
    for before, after in pairwise(known):
        step = after - before
        if clock == CLOCK and abs(step) > DAY / 2:
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
    ordered, _ = _straighten([events[i] for i in places], DATED)
    return OrderedEvents(
        ordered, EventOrder.OLDEST_FIRST, True, ("The lines were not in the order of their time stamps and were sorted.",)
    )


def _straighten(events: Sequence[CodeEvent], clock: str) -> tuple[tuple[CodeEvent, ...], tuple[str, ...]]:
    """Make the times rise from nought on: past midnight, and over clocks that start again with each start-up."""
    origin = next((e.at for e in events if e.at is not None), 0.0) if clock in (DATED, CLOCK) else 0.0
    shift, last, starts = -origin, -origin, 1
    result: list[tuple[CodeEvent, float | None, int]] = []
    for event in events:
        at = None if event.at is None else event.at + shift
        if at is not None and event.at is not None and at < last and result:
            if clock == CLOCK:
                shift += DAY
            elif clock == SINCE:
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
    rounded = None if at is None else round(at, 6)
    return CodeEvent(event.code, rounded, boot, event.kind, event.status, event.count, event.line)
