"""Oldest first: from what was asked, from time stamps, from running numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from nopost.codes.event import Event, Order
from nopost.codes.timestamps import CLOCK, DATED, DAY, SINCE

MAJORITY = 2 / 3
"""So many of the steps of time must go one way to say the order."""


@dataclass(frozen=True, slots=True)
class Arranged:
    """Events oldest first, how the text had them, whether that is known, and what was guessed."""

    events: tuple[Event, ...]
    order: Order
    given: bool
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Steps:
    ups: int
    downs: int

    @property
    def order(self) -> Order | None:
        total = self.ups + self.downs
        if total and self.ups >= MAJORITY * total:
            return Order.OLDEST_FIRST
        return Order.NEWEST_FIRST if total and self.downs >= MAJORITY * total else None


def arrange(
    events: Sequence[Event],
    *,
    asked: Order | None = None,
    clock: str = "",
    indexes: Sequence[int | None] = (),
    certain: Order | None = None,
) -> Arranged:
    """Put events in the order of time.

    `clock`: kind of the time stamps; `indexes`: running number per event; `certain`: the order the format itself lays down.
    """
    steps = _steps([e.at for e in events], clock)
    by_index = _steps(indexes, "").order
    known = steps.order or by_index or certain
    if not asked and clock == DATED and steps.ups and steps.downs and not steps.order:
        return _sorted(events)
    order = asked or known or Order.OLDEST_FIRST
    ordered = list(events) if order is Order.OLDEST_FIRST else list(events)[::-1]
    given = asked is not None or known is not None
    if steps.ups + steps.downs and steps.order is not order:
        return Arranged(_untimed(ordered), order, given, ("The time stamps do not fit this order and were left out.",))
    timed, notes = _straighten(ordered, clock)
    return Arranged(timed, order, given, notes)


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


def _untimed(events: Sequence[Event]) -> tuple[Event, ...]:
    return tuple(e if e.at is None else replace(e, at=None) for e in events)


def _sorted(events: Sequence[Event]) -> Arranged:
    """Dated events that jump to and fro: by date; those without a date stay behind the one before them."""
    last, keys = 0.0, []
    for event in events:
        last = last if event.at is None else event.at
        keys.append(last)
    places = sorted(range(len(events)), key=keys.__getitem__)
    ordered, _ = _straighten([events[i] for i in places], DATED)
    return Arranged(ordered, Order.OLDEST_FIRST, True, ("The lines were not in the order of their time stamps and were sorted.",))


def _straighten(events: Sequence[Event], clock: str) -> tuple[tuple[Event, ...], tuple[str, ...]]:
    """Make the times rise from nought on: past midnight, and over clocks that start again with each start-up."""
    origin = next((e.at for e in events if e.at is not None), 0.0) if clock in (DATED, CLOCK) else 0.0
    shift, last, starts = -origin, -origin, 1
    result: list[tuple[Event, float | None, int]] = []
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


def _timed(event: Event, at: float | None, boot: int | None) -> Event:
    rounded = None if at is None else round(at, 6)
    return Event(event.code, rounded, boot, event.kind, event.status, event.count, event.line)
