"""From a reading to what happened: boots, outcome, stage, and how sure all that is, over every table that may be the right
one.

Each table with a probability worth counting, in each order worth counting, judges the record for itself (`boot_outcome`).
The unknown table speaks through the generic ranges as far as they are trusted, and for the rest only through what needs
no table: restarts and silence.

The outcome is the one with most probability behind it. The stage is said only when more than half of all probability
names it together with this outcome. The confidence is the probability of those that agree on both, each times

* the certainty of its verdict, given the table;
* 1 - a / n for n different codes that the table knows, a = 0.3 for digits and 0.1 for signs that mean more by themselves;
* 1 - 0.5 * r for the share r of steps of the last boot that go backwards (codes lost, mixed up, or of another table);
* 0.95 when the record begins after memory start-up, its beginning cut off.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from nopost.codes.boot_outcome import BootOutcome, Verdict, outcome_of
from nopost.codes.boots import Boot, BootSequence, Mark, boots_of, marks_of, regressions, split_boots
from nopost.codes.code_events import MEMORY_RANK, CodeEvent, CodeForm, CodeReading, EventOrder
from nopost.codes.periodicity import Period
from nopost.codes.table_inference import LEAST_PROBABILITY, UNKNOWN_MAP, TableInference
from nopost.codes.tables import IndexedTable, TableSet

GENERIC_TRUST = 0.75
"""How far a board's own table follows a generic table (judgement)."""
SINGLE_CODE_LOSS = {CodeForm.HEX: 0.3}
"""How much less a single code is worth than many, 0.1 for the other forms (judgement)."""
MAJORITY_SHARE = 0.5
"""So much of all probability must agree on a stage, or on what an error code is about."""
LEAST_KNOWN_CODES = 4
"""So many different codes must be known before it means something that no error code is among them."""
NO_ERROR = "none"


@dataclass(frozen=True, slots=True)
class Trace:
    """What happened.

    `boots`: as `table` sees them, empty when no table is probable; `order`: how the events of the reading run, the boots are
    oldest first in any case. `stage`: an answer of the finding stage, or empty. `error`: an answer of the finding
    error-code, or empty. `support`: (outcome, stage, probability before any certainty), falling.
    """

    boots: tuple[Boot, ...]
    outcome: BootOutcome
    confidence: float
    stage: str
    period: Period | None
    table: str
    order: EventOrder
    error: str
    support: tuple[tuple[BootOutcome, str, float], ...]

    @property
    def last(self) -> str:
        """The last code that tells something, of the last boot."""
        return self.boots[-1].last if self.boots else ""

    @property
    def restarts(self) -> int:
        """How many there are on record."""
        return max(0, len(self.boots) - 1)


@dataclass(frozen=True, slots=True)
class _Hypothesis:
    """The record under one table (None: no table at all) in one order, with its probability and its verdict."""

    table: IndexedTable | None
    order: EventOrder
    weight: float
    form: CodeForm
    sequence: BootSequence
    verdict: Verdict

    @property
    def sure(self) -> float:
        """Its share of the confidence."""
        return self.weight * self.verdict.certainty * context_factor(self.sequence, self.verdict.outcome, self.form)


def analyse(reading: CodeReading, tables: TableSet, inference: TableInference) -> Trace:
    """What happened. `inference` is that of the reading's events as they stand; they are turned round here when it says so
    and the reading's order was neither given nor certain."""
    views = list(_views(reading, tables, inference))
    outcomes: defaultdict[BootOutcome, float] = defaultdict(float)
    support: defaultdict[tuple[BootOutcome, str], float] = defaultdict(float)
    for view in views:
        outcomes[view.verdict.outcome] += view.weight
        support[view.verdict.outcome, view.verdict.stage] += view.weight
    outcome = max(outcomes, key=lambda one: (outcomes[one], one is not BootOutcome.UNCLEAR))
    stage = max((s for o, s in support if o is outcome), key=lambda s: support[outcome, s])
    if support[outcome, stage] <= MAJORITY_SHARE * sum(outcomes.values()):
        stage = ""
    agreed = [v for v in views if v.verdict.outcome is outcome and (not stage or v.verdict.stage == stage)]
    shown = max(agreed, key=lambda view: (view.table is not None, view.weight))
    ranked = sorted(support.items(), key=lambda pair: -pair[1])
    return Trace(
        boots=boots_of(shown.sequence),
        outcome=outcome,
        confidence=sum(view.sure for view in agreed),
        stage=stage,
        period=shown.verdict.period,
        table=shown.table.id if shown.table else "",
        order=shown.order,
        error=_error(views),
        support=tuple((o, s, weight) for (o, s), weight in ranked),
    )


def _views(reading: CodeReading, tables: TableSet, inference: TableInference) -> Iterator[_Hypothesis]:
    for order, share in _orders(reading, inference):
        events = reading.events if order is EventOrder.OLDEST_FIRST else reading.events[::-1]
        for table, weight in _hypotheses(tables, inference, reading.form):
            sequence = split_boots(events, marks_of(events, table, reading.form), own=table is not None and not table.generic)
            yield _Hypothesis(table, order, weight * share, reading.form, sequence, outcome_of(sequence))


def _orders(reading: CodeReading, inference: TableInference) -> list[tuple[EventOrder, float]]:
    """Both orders with their probabilities; one where the other is not worth counting."""
    if reading.order_given or len({event.code for event in reading.events}) < 2:
        return [(EventOrder.OLDEST_FIRST, 1.0)]
    forward = 1 / (1 + math.exp(-max(-500.0, min(500.0, inference.order_log_odds))))
    shares = [(EventOrder.OLDEST_FIRST, forward), (EventOrder.NEWEST_FIRST, 1 - forward)]
    return [(order, share) for order, share in shares if share >= LEAST_PROBABILITY]


def _hypotheses(tables: TableSet, inference: TableInference, form: CodeForm) -> list[tuple[IndexedTable | None, float]]:
    """Tables with their probabilities. What a generic table gets is split between it and no table at all, by how far it is
    trusted."""
    named = {name for name, _ in inference.posterior}
    found: list[tuple[IndexedTable | None, float]] = []
    for name, weight in inference.posterior:
        if weight < LEAST_PROBABILITY:
            continue
        speakers = [tables.named(name)] if name != UNKNOWN_MAP else _unnamed_generic(tables, form, named)
        trust = [GENERIC_TRUST if table.generic else 1.0 for table in speakers]
        shares = [weight * share / len(speakers) for share in trust]
        found += zip(speakers, shares, strict=True)
        found.append((None, weight - sum(shares)))
    return [(table, weight) for table, weight in found if weight > 0] or [(None, 1.0)]


def _unnamed_generic(tables: TableSet, form: CodeForm, named: AbstractSet[str]) -> list[IndexedTable]:
    """The generic tables that the unknown table speaks through: those that are no hypotheses themselves."""
    return [table for table in tables.of_form(form) if table.generic and table.id not in named]


def context_factor(sequence: BootSequence, outcome: BootOutcome, form: CodeForm) -> float:
    """How much of the context is there: few codes, steps backwards and a lost beginning lower it (see above)."""
    if outcome is BootOutcome.NEVER_STARTED or not sequence.starts:
        return 1.0
    live = [mark for mark in sequence.marks if not mark.blank]
    known = {event.code for event, mark in zip(sequence.events, sequence.marks, strict=True) if mark.phase and not mark.blank}
    steps = [sequence.marks[i] for i in sequence.spans()[-1]]
    backwards = len(regressions(steps)) / max(1, len(steps) - 1)
    late = live[0].rank > MEMORY_RANK and len(known) > 1
    return (1 - SINGLE_CODE_LOSS.get(form, 0.1) / max(1, len(known))) * (1 - 0.5 * backwards) * (0.95 if late else 1.0)


def _error(views: Sequence[_Hypothesis]) -> str:
    """What the last error code is about, when enough of all probability agrees; `none` when enough says that there was none."""
    votes: defaultdict[str, float] = defaultdict(float)
    for view in views:
        votes[_last_error(view)] += view.weight
    group = max(votes, key=votes.__getitem__)
    return group if votes[group] > MAJORITY_SHARE * sum(votes.values()) else ""


def _last_error(view: _Hypothesis) -> str:
    """Of the last boot; in a loop of the last two, since the last may be cut."""
    spans = view.sequence.spans()[-2 if view.verdict.outcome is BootOutcome.RESTART_LOOP else -1 :]
    marks: list[tuple[CodeEvent, Mark]] = [(view.sequence.events[i], view.sequence.marks[i]) for span in spans for i in span]
    groups = [mark.group for _, mark in marks if mark.group]
    if groups:
        return groups[-1]
    known = {event.code for event, mark in marks if mark.phase and not mark.blank}
    return NO_ERROR if len(known) >= LEAST_KNOWN_CODES and not (view.table and view.table.generic) else ""
