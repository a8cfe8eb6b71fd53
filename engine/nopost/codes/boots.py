"""Cut a sequence into boots at its resets, and say for each how far it came, where it stayed and what went wrong."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import median

from nopost.codes.event import Event
from nopost.codes.marks import EARLY, MEMORY, PHASES, Mark

LONG_GAP, LONGEST_GAP = 5.0, 20.0
"""Seconds without a code before a first one comes again that make a pause: the one at least, the other always (judgement)."""
GAP_TIMES = 10.0
"""Between the two: so many times the usual time between codes."""


class Began(StrEnum):
    """Why a boot is held to begin here."""

    RECORD = "record"
    SAID = "said"
    RESTART_CODE = "restart-code"
    FELL_BACK = "fell-back"
    CAME_ROUND = "came-round"
    PAUSE = "pause"


@dataclass(frozen=True, slots=True)
class Boot:
    """One start.

    `first`: index of its first event in the sequence. `phases`: per event, empty where the table does not have it. `furthest`:
    latest phase of the normal course, or empty. `last`: last code that tells something. `dwell`: seconds that each event stood,
    None where times are not known or nothing came after it. `errors`: error codes in order. `regressions`: positions of events
    that lie before the one before them in the normal order.
    """

    first: int
    began: Began
    events: tuple[Event, ...]
    phases: tuple[str, ...]
    furthest: str
    last: str
    dwell: tuple[float | None, ...]
    errors: tuple[str, ...]
    regressions: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Course:
    """Events, oldest first, as one table sees them, cut into boots: (index of the first event, why) for each.

    `numbered`: the source itself tells the boots apart.
    """

    events: Sequence[Event]
    marks: Sequence[Mark]
    starts: tuple[tuple[int, Began], ...]
    numbered: bool

    def spans(self) -> list[range]:
        """The indexes of each boot's events."""
        edges = [*(first for first, _ in self.starts), len(self.events)]
        return [range(a, b) for a, b in itertools.pairwise(edges)]

    def stood(self, index: int) -> float | None:
        """Seconds from an event to the next one; None when not known.

        Sources that number the boots often count each one's seconds from its own beginning, so a second or less between two
        boots means that nothing is known.
        """
        if index + 1 >= len(self.events):
            return None
        event, after = self.events[index], self.events[index + 1]
        gap = _gap(event, after)
        lost = self.numbered and event.boot != after.boot and gap is not None and gap <= 1.0
        return None if lost else gap


def _gap(one: Event, other: Event) -> float | None:
    return None if one.at is None or other.at is None or other.at < one.at else other.at - one.at


def cut(events: Sequence[Event], marks: Sequence[Mark], *, own: bool = True) -> Course:
    """The boots of a sequence. Where the source numbers all of them, it is believed; else resets are looked for.

    `own`: the marks are of the board's own table, so that a first code that comes again later in the same phase is no
    restart. With ranges or no map at all the same codes coming round is all there is to go by.
    """
    numbered = bool(events) and all(event.boot is not None for event in events)
    if not events:
        return Course(events, marks, (), False)
    if numbered:
        changes = [i for i in range(1, len(events)) if events[i].boot != events[i - 1].boot]
        return Course(events, marks, ((0, Began.RECORD), *((i, Began.SAID) for i in changes)), True)
    return Course(events, marks, tuple(_resets(events, marks, own)), False)


def _resets(events: Sequence[Event], marks: Sequence[Mark], own: bool) -> list[tuple[int, Began]]:
    long = _long_gap(events)
    starts = [(0, Began.RECORD)]
    state = _State(own)
    for i, (event, mark) in enumerate(zip(events, marks, strict=True)):
        why = _why(events[i - 1], event, marks[i - 1], mark, state, long) if i else None
        if why:
            starts.append((i, why))
            state = _State(own)
        state.take(event, mark)
    return starts


@dataclass(slots=True)
class _State:
    """The boot so far: first code, latest phase, place of the last step, last code, how many came since the first one."""

    own: bool
    first: str = ""
    repeats: bool = False
    furthest: int = -1
    place: float | None = None
    last: str = ""
    others: int = 0

    def came_round(self, mark: Mark) -> bool:
        """Whether the first code coming again may be a restart."""
        if not self.own:
            return self.others >= 2
        return self.others >= 1 and (mark.rank <= EARLY or mark.rank < self.furthest)

    def take(self, event: Event, mark: Mark) -> None:
        if mark.blank:
            return
        if not self.first:
            self.first, self.repeats = event.code, mark.repeats
        self.others += event.code != self.last and event.code != self.first
        self.last = event.code
        if mark.kind != "error":
            self.furthest = max(self.furthest, mark.rank)
        self.place = self.place if mark.place is None else mark.place


def _why(before: Event, event: Event, mark_before: Mark, mark: Mark, state: _State, long: float) -> Began | None:
    """Why a boot begins with this event, or None."""
    if event.boot is not None and before.boot is not None and event.boot != before.boot:
        return Began.SAID
    if mark.blank or mark.kind == "error" or mark.restart:
        return None
    if mark_before.restart:
        return Began.RESTART_CODE
    early = 0 <= mark.rank <= EARLY
    if early and state.furthest >= MEMORY:
        return Began.FELL_BACK
    again = event.code == state.first and not state.repeats
    if again and event.code != state.last and state.came_round(mark):
        return Began.CAME_ROUND
    if event.at is None or not (again or early) or not state.first:
        return None
    gap = _gap(before, event)
    back = state.place is None or mark.place is None or mark.place <= state.place
    return Began.PAUSE if back and gap is not None and gap >= long else None


def _long_gap(events: Sequence[Event]) -> float:
    """How many seconds without a code are a pause here."""
    gaps = [gap for one, other in itertools.pairwise(events) if (gap := _gap(one, other)) is not None]
    return min(LONGEST_GAP, max(LONG_GAP, GAP_TIMES * median(gaps))) if gaps else LONG_GAP


def boots_of(course: Course) -> tuple[Boot, ...]:
    """Each boot of a course in full."""
    return tuple(_boot(course, span, began) for span, (_, began) in zip(course.spans(), course.starts, strict=True))


def _boot(course: Course, span: range, began: Began) -> Boot:
    marks = [course.marks[i] for i in span]
    events = tuple(course.events[i] for i in span)
    furthest = max((mark.rank for mark in marks if mark.kind != "error"), default=-1)
    timed = any(event.at is not None for event in events)
    told = [event.code for event, mark in zip(events, marks, strict=True) if mark.telling] or [e.code for e in events]
    return Boot(
        first=span.start,
        began=began,
        events=events,
        phases=tuple(mark.phase for mark in marks),
        furthest=PHASES[furthest] if furthest >= 0 else "",
        last=told[-1],
        dwell=tuple(course.stood(i) for i in span) if timed else (None,) * len(events),
        errors=tuple(event.code for event, mark in zip(events, marks, strict=True) if mark.kind == "error"),
        regressions=tuple(regressions(marks)),
    )


def regressions(marks: Sequence[Mark]) -> list[int]:
    """Positions that lie before the step before them in the normal order; steps that may repeat do not count."""
    found: list[int] = []
    last: float | None = None
    for i, mark in enumerate(marks):
        if mark.place is None or mark.repeats:
            continue
        if last is not None and mark.place < last:
            found.append(i)
        last = mark.place
    return found
