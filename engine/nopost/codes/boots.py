"""Cut a sequence of events into boots at its resets, and say for each how far it came, where it stayed and what went wrong.

First each code gets its `Mark`: what it is under one table (phase, stage, kind, place in the normal order). Then resets
are looked for, unless the source itself numbers the boots.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from statistics import median

from nopost.codes.code_events import BLANK_CODES, MEMORY_RANK, PEI_RANK, PHASE_ORDER, CodeEvent, CodeForm, phase_rank
from nopost.codes.tables import IndexedTable
from nopost.knowledge.reference_records import Code

ERROR_STAGES = ("memory", "cpu", "graphics", "devices")
"""Stages that say what an error is about."""
OTHER_ERROR = "other"


@dataclass(frozen=True, slots=True)
class Mark:
    """A code under a table. `phase` is empty when the table does not have it; `rank`: its `phase_rank`.

    `group`: what kind of fault an error code names, as in `error_group`; empty for other codes. `blank`:
    nothing was shown. `restart`: the firmware restarts the machine on purpose.
    `ended`: the firmware's work is done here and the system has its turn. `informative`: it says how far the start-up came.
    """

    phase: str = ""
    rank: int = -1
    place: float | None = None
    stage: str = ""
    kind: str = ""
    repeats: bool = False
    group: str = ""
    blank: bool = False
    restart: bool = False
    ended: bool = False
    informative: bool = False


UNKNOWN_MARK = Mark()
BLANK_MARK = Mark(phase="any", stage="no-code", kind="progress", blank=True)


def marks_of(events: Iterable[CodeEvent], table: IndexedTable | None, form: CodeForm) -> list[Mark]:
    """The mark of each event; without a table only blank codes are known."""
    if table is None:
        return [BLANK_MARK if form is CodeForm.HEX and event.code in BLANK_CODES else UNKNOWN_MARK for event in events]
    return [mark_of(table, event.code, event.kind) for event in events]


@lru_cache(maxsize=16384)
def mark_of(table: IndexedTable, code: str, kind: str = "") -> Mark:
    """The mark of one code. `kind` (progress or error) is what the source says of it; without it a code that is both is
    progress."""
    rows = table.find(code, kind) if kind else table.find(code)
    usual = [row for row in rows if row.kind != "error"]
    rows = rows if kind else usual or rows
    silent = bool(rows) and all(row.stage == "no-code" for row in rows)
    if silent or (table.form is CodeForm.HEX and code in BLANK_CODES and (not rows or rows == usual)):
        return BLANK_MARK
    return _mark(rows, table.place(code) if rows and rows[0].kind != "error" else None) if rows else UNKNOWN_MARK


def _mark(rows: Sequence[Code], place: float | None) -> Mark:
    phase = _shared([row.phase for row in rows]) or "any"
    stage = _shared([row.stage for row in rows])
    kind = _shared([row.kind for row in rows]) or "progress"
    restart = phase == "any" and kind == "progress" and all(row.symbol.endswith("RESET_SYSTEM") for row in rows)
    return Mark(
        phase=phase,
        rank=phase_rank(phase),
        place=place,
        stage=stage,
        kind=kind,
        repeats=any(row.repeats for row in rows),
        group=(_shared([error_group(row) for row in rows]) or OTHER_ERROR) if kind == "error" else "",
        restart=restart,
        ended=kind == "end" or (kind == "progress" and stage == "handed-over"),
        informative=not restart and (phase != "any" or bool(stage) or kind == "error"),
    )


def _shared(values: Sequence[str]) -> str:
    """The value that all have, else nothing."""
    return values[0] if all(value == values[0] for value in values) else ""


def error_group(code: Code) -> str:
    """What an error code is about, in the words of `about` in the schema of code tables: as its row says, else by its stage."""
    return code.about or (code.stage if code.stage in ERROR_STAGES else OTHER_ERROR)


LONG_GAP, LONGEST_GAP = 5.0, 20.0
"""Seconds without a code before a first one comes again that make a pause: the one at least, the other always (judgement)."""
GAP_TIMES = 10.0
"""Between the two: so many times the usual time between codes."""


class StartReason(StrEnum):
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
    latest phase of the normal order, or empty. `last`: the last informative code. `dwell`: seconds that each event stood,
    None where times are not known or nothing came after it. `errors`: error codes in order. `regressions`: positions of events
    that lie before the one before them in the normal order.
    """

    first: int
    began: StartReason
    events: tuple[CodeEvent, ...]
    phases: tuple[str, ...]
    furthest: str
    last: str
    dwell: tuple[float | None, ...]
    errors: tuple[str, ...]
    regressions: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class BootSequence:
    """Events, oldest first, as one table sees them, cut into boots: (index of the first event, why) for each.

    `numbered`: the source itself tells the boots apart.
    """

    events: Sequence[CodeEvent]
    marks: Sequence[Mark]
    starts: tuple[tuple[int, StartReason], ...]
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


def _gap(one: CodeEvent, other: CodeEvent) -> float | None:
    return None if one.at is None or other.at is None or other.at < one.at else other.at - one.at


def split_boots(events: Sequence[CodeEvent], marks: Sequence[Mark], *, own: bool = True) -> BootSequence:
    """The boots of a sequence. Where the source numbers all of them, it is believed; else resets are looked for.

    `own`: the marks are of the board's own table, so that a first code that comes again later in the same phase is no
    restart. With ranges or no table at all the same codes coming round is all there is to go by.
    """
    numbered = bool(events) and all(event.boot is not None for event in events)
    if not events:
        return BootSequence(events, marks, (), False)
    if numbered:
        changes = [i for i in range(1, len(events)) if events[i].boot != events[i - 1].boot]
        return BootSequence(events, marks, ((0, StartReason.RECORD), *((i, StartReason.SAID) for i in changes)), True)
    return BootSequence(events, marks, tuple(_resets(events, marks, own)), False)


def _resets(events: Sequence[CodeEvent], marks: Sequence[Mark], own: bool) -> list[tuple[int, StartReason]]:
    long = _long_gap(events)
    starts = [(0, StartReason.RECORD)]
    state = _BootSoFar(own)
    for i, (event, mark) in enumerate(zip(events, marks, strict=True)):
        why = _start_reason(events[i - 1], event, marks[i - 1], mark, state, long) if i else None
        if why:
            starts.append((i, why))
            state = _BootSoFar(own)
        state.take(event, mark)
    return starts


@dataclass(slots=True)
class _BootSoFar:
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
        return self.others >= 1 and (mark.rank <= PEI_RANK or mark.rank < self.furthest)

    def take(self, event: CodeEvent, mark: Mark) -> None:
        if mark.blank:
            return
        if not self.first:
            self.first, self.repeats = event.code, mark.repeats
        self.others += event.code != self.last and event.code != self.first
        self.last = event.code
        if mark.kind != "error":
            self.furthest = max(self.furthest, mark.rank)
        self.place = self.place if mark.place is None else mark.place


def _start_reason(
    before: CodeEvent, event: CodeEvent, mark_before: Mark, mark: Mark, state: _BootSoFar, long: float
) -> StartReason | None:
    """Why a boot begins with this event, or None."""
    if event.boot is not None and before.boot is not None and event.boot != before.boot:
        return StartReason.SAID
    if mark.blank or mark.kind == "error" or mark.restart:
        return None
    if mark_before.restart:
        return StartReason.RESTART_CODE
    early = 0 <= mark.rank <= PEI_RANK
    if early and state.furthest >= MEMORY_RANK:
        return StartReason.FELL_BACK
    again = event.code == state.first and not state.repeats
    if again and event.code != state.last and state.came_round(mark):
        return StartReason.CAME_ROUND
    if event.at is None or not (again or early) or not state.first:
        return None
    gap = _gap(before, event)
    back = state.place is None or mark.place is None or mark.place <= state.place
    return StartReason.PAUSE if back and gap is not None and gap >= long else None


def _long_gap(events: Sequence[CodeEvent]) -> float:
    """How many seconds without a code are a pause here."""
    gaps = [gap for one, other in itertools.pairwise(events) if (gap := _gap(one, other)) is not None]
    return min(LONGEST_GAP, max(LONG_GAP, GAP_TIMES * median(gaps))) if gaps else LONG_GAP


def boots_of(sequence: BootSequence) -> tuple[Boot, ...]:
    """Each boot of a sequence in full."""
    return tuple(_boot(sequence, span, began) for span, (_, began) in zip(sequence.spans(), sequence.starts, strict=True))


def _boot(sequence: BootSequence, span: range, began: StartReason) -> Boot:
    marks = [sequence.marks[i] for i in span]
    events = tuple(sequence.events[i] for i in span)
    furthest = max((mark.rank for mark in marks if mark.kind != "error"), default=-1)
    timed = any(event.at is not None for event in events)
    informative = [event.code for event, mark in zip(events, marks, strict=True) if mark.informative]
    return Boot(
        first=span.start,
        began=began,
        events=events,
        phases=tuple(mark.phase for mark in marks),
        furthest=PHASE_ORDER[furthest] if furthest >= 0 else "",
        last=(informative or [event.code for event in events])[-1],
        dwell=tuple(sequence.stood(i) for i in span) if timed else (None,) * len(events),
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
