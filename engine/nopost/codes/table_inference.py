"""Which code table a sequence follows: prior, likelihood and posterior over the known tables and the unknown one.

Each candidate is scored in both orders of the events, since a list may be noted newest first; the order is inferred
together with the table. Scores are natural logarithms. `code_meanings` then says what a code means under every table that
is probable enough to be quoted.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from nopost.codes.code_events import CodeEvent, CodeForm, EventOrder
from nopost.codes.table_likelihood import CodeRun, code_runs, discount_repeats, model_of, unknown_log_likelihood
from nopost.codes.tables import IndexedTable, TableSet
from nopost.knowledge.reference_records import Code

UNKNOWN_MAP = "unknown-map"
"""Id, in the JSON too, of the hypothesis that the codes follow a table that nobody knows, such as the board's own."""
UPWARDS = 0.56
"""Chance that a step of an unknown table goes to a range that comes later, as common practice has it. Judgement."""
UNKNOWN_SHARE = 0.1
"""Prior of the unknown table where no generic table gives it a weight. Judgement."""
LIKELIHOOD_POWER = 0.55
"""Power to which likelihoods are raised: neighbouring codes are not as independent as the models have it, and private maps borrow
from open ones. Set so that stated probabilities match the share that is right on drawn sequences."""


@dataclass
class TableScores:
    """Log joint of (hypothesis, order) with the likelihoods apart."""

    prior: Mapping[str, float]
    likelihood: dict[EventOrder, dict[str, float]] = field(default_factory=dict)
    upwards: dict[EventOrder, float] = field(default_factory=dict)

    def joint(self, order: EventOrder) -> dict[str, float]:
        """Log probability of each hypothesis together with the codes in this order."""
        return {name: math.log(self.prior[name]) + LIKELIHOOD_POWER * value for name, value in self.likelihood[order].items()}

    def evidence(self, order: EventOrder, only: str | None = None) -> float:
        """Log probability of the codes in this order, of one hypothesis or over all of them.

        The unknown table leans on the ranges to have a direction at all.
        """
        joint = self.joint(order)
        joint[UNKNOWN_MAP] += self.upwards[order]
        return joint[only] if only is not None else log_sum(list(joint.values()))


def table_prior(tables: Sequence[IndexedTable], generic: Sequence[IndexedTable]) -> dict[str, float]:
    """Weights of the tables and of the unknown table (those of the generic tables), scaled to sum 1."""
    total = sum(t.weight for t in tables)
    unknown = sum(t.weight for t in generic) or (total or 1.0) * UNKNOWN_SHARE / (1 - UNKNOWN_SHARE)
    return {t.id: t.weight / (total + unknown) for t in tables} | {UNKNOWN_MAP: unknown / (total + unknown)}


def score_tables(
    sequences: Mapping[EventOrder, list[CodeRun]], candidates: Sequence[IndexedTable], tables: TableSet, form: CodeForm
) -> TableScores:
    """The scores of the candidates and of the unknown table, whose weight and direction are those of the generic tables."""
    generic = [t for t in tables.of_form(form) if t.generic]
    scores = TableScores(table_prior(candidates, generic))
    unknown = unknown_log_likelihood(sequences[EventOrder.OLDEST_FIRST])
    for order, sequence in sequences.items():
        scores.likelihood[order] = {t.id: model_of(t).log_likelihood(sequence) for t in candidates}
        scores.likelihood[order][UNKNOWN_MAP] = unknown
        scores.upwards[order] = _upwards(sequence, generic)
    return scores


def _upwards(sequence: Sequence[CodeRun], generic: Sequence[IndexedTable]) -> float:
    """Log ratio of the steps' directions between ranges against even chances, each pair of neighbours once."""
    if not generic:
        return 0.0
    place = generic[0].place
    places = [place(run.code) for run in sequence]
    steps = {(a, b) for a, b in pairwise(places) if a is not None and b is not None}
    up, down = sum(b > a for a, b in steps), sum(b < a for a, b in steps)
    return up * math.log(2 * UPWARDS) + down * math.log(2 * (1 - UPWARDS))


def log_sum(values: Sequence[float]) -> float:
    """log of the sum of the exponentials."""
    top = max(values)
    return top + math.log(sum(math.exp(value - top) for value in values))


OLDEST_FIRST_ODDS = 4.0
"""Prior odds that a sequence is noted in order of time. Judgement."""
LEAST_PROBABILITY = 0.02
"""A table, or an order of the events, less probable than this is neither quoted nor followed (judgement)."""
BAD_FIT = 1.0
"""Nats per code below which the best table explains the codes badly."""


@dataclass(frozen=True, slots=True)
class TableInference:
    """What is believed about the table.

    `posterior`: (name, probability) of every table that is a hypothesis and of the unknown table, falling, sum 1. `order`: how
    the events handed in run. `order_log_odds`: log odds (nats) of oldest first against newest first, prior included.
    `closest`: the best known table, or the given one; "" when there is none. `fit_per_code`: mean log-likelihood ratio per
    code (nats) of that table against the unknown one; 0 when there is nothing to compare. `coverage`: share of the different
    codes that it has. `note`: all this in one sentence for the person.
    """

    posterior: tuple[tuple[str, float], ...]
    best: str
    order: EventOrder
    order_log_odds: float
    fit_per_code: float
    note: str
    form: CodeForm = CodeForm.HEX
    closest: str = ""
    coverage: float = 0.0

    @property
    def probability(self) -> float:
        """Posterior probability of `best`."""
        return dict(self.posterior)[self.best]


@dataclass(frozen=True, slots=True)
class CodeMeaning:
    """What a code means if `table` is the right one, and how probable that is. Rows as the table has them."""

    table: str
    probability: float
    rows: tuple[Code, ...]


def infer_table(
    events: Sequence[CodeEvent],
    tables: TableSet,
    *,
    given: str | None = None,
    form: CodeForm | None = None,
    order_given: bool = False,
) -> TableInference:
    """The posterior over the tables of the events' form and the unknown table; all on `given` when it names a table.

    `form`: guessed from the codes when None. `order_given`: the events are in order of time for certain. UnknownNameError when
    no table is called `given`.
    """
    named = _named_table(given, tables)
    form = form or (named.form if named else tables.form_of(event.code for event in events))
    candidates = [t for t in tables.of_form(form) if not t.generic]
    if named is not None and not named.generic and named not in candidates:
        candidates.append(named)
    sequences = _both_orders(events, form)
    scores = score_tables(sequences, candidates, tables, form)
    only = None if given is None else _hypothesis(named)
    odds = _order_log_odds(scores, only)
    order = EventOrder.OLDEST_FIRST if order_given or odds >= 0 else EventOrder.NEWEST_FIRST
    posterior = _posterior(scores.joint(order), only)
    return _inference(posterior, scores.likelihood[order], sequences[order], tables, (order, odds, form), given)


def _named_table(given: str | None, tables: TableSet) -> IndexedTable | None:
    """The table named; None for no name and for the unknown table."""
    if given is None or given == UNKNOWN_MAP:
        return None
    return tables.named(given)


def _hypothesis(named: IndexedTable | None) -> str:
    """A generic table is no board's own: naming it means that the table is unknown."""
    return UNKNOWN_MAP if named is None or named.generic else named.id


def _both_orders(events: Sequence[CodeEvent], form: CodeForm) -> dict[EventOrder, list[CodeRun]]:
    """The runs as they would follow in time under each order."""
    sequence = code_runs(events, form)
    return {EventOrder.OLDEST_FIRST: sequence, EventOrder.NEWEST_FIRST: discount_repeats(reversed(sequence))}


def _order_log_odds(scores: TableScores, only: str | None) -> float:
    forward, backward = scores.evidence(EventOrder.OLDEST_FIRST, only), scores.evidence(EventOrder.NEWEST_FIRST, only)
    return math.log(OLDEST_FIRST_ODDS) + forward - backward


def _posterior(joint: Mapping[str, float], only: str | None) -> tuple[tuple[str, float], ...]:
    """Normalised and falling; names break ties."""
    if only is not None:
        ranked = [(name, float(name == only)) for name in joint]
    else:
        total = log_sum(list(joint.values()))
        ranked = [(name, math.exp(value - total)) for name, value in joint.items()]
    return tuple(sorted(ranked, key=lambda pair: (-pair[1], pair[0])))


def _inference(
    posterior: tuple[tuple[str, float], ...],
    likelihood: Mapping[str, float],
    sequence: Sequence[CodeRun],
    tables: TableSet,
    read: tuple[EventOrder, float, CodeForm],
    given: str | None,
) -> TableInference:
    """Build the result with its fit and its note. `read`: order of the events, its log odds, form of the codes."""
    best = posterior[0][0]
    closest = next((name for name, _ in posterior if name != UNKNOWN_MAP), "")
    if given is not None and best == UNKNOWN_MAP:
        closest = max((name for name in likelihood if name != UNKNOWN_MAP), key=likelihood.__getitem__, default="")
    counted = sum(run.counted for run in sequence)
    fit = (likelihood[closest] - likelihood[UNKNOWN_MAP]) / counted if closest and counted else 0.0
    codes = {run.code for run in sequence}
    coverage = sum(bool(tables.tables[closest].look_up(c).rows) for c in codes) / len(codes) if closest and codes else 0.0
    order, odds, form = read
    note = _note(best, dict(posterior)[best], fit, counted, given)
    return TableInference(posterior, best, order, odds, fit, note, form, closest, coverage)


def _note(best: str, probability: float, fit_per_code: float, counted: int, given: str | None) -> str:
    """One sentence for the person."""
    if given is not None and best == UNKNOWN_MAP:
        return "The map of this board is taken as unknown, as told; codes are read by ranges."
    if given is not None:
        doubt = f", though the codes do not fit it ({fit_per_code:+.1f} nats per code)" if counted and fit_per_code < 0 else ""
        return f"Read with the table {best}, as told{doubt}."
    if not counted:
        return "There is nothing here that tells one map from another."
    if best == UNKNOWN_MAP:
        return f"No table explains these codes well; the board seems to use a map of its own (probability {probability:.0%})."
    if fit_per_code < BAD_FIT:
        return f"The table {best} is the likeliest (probability {probability:.0%}), but it explains the codes badly."
    return f"The codes look like the table {best} (probability {probability:.0%})."


def code_meanings(code: str, tables: TableSet, inference: TableInference, kind: str = "") -> list[CodeMeaning]:
    """What a code means under every table that is probable enough to be quoted and knows it, likeliest first.

    The unknown table speaks through the generic tables of the form, under their names. `kind`: progress or error when the source
    says so.
    """
    result = []
    for name, probability in inference.posterior:
        if probability >= LEAST_PROBABILITY:
            for table in _speaking_tables(name, tables, inference.form):
                rows = table.find(code, kind)
                if rows:
                    result.append(CodeMeaning(table.id, probability, tuple(rows)))
    return result


def _speaking_tables(name: str, tables: TableSet, form: CodeForm) -> list[IndexedTable]:
    return [t for t in tables.of_form(form) if t.generic] if name == UNKNOWN_MAP else [tables.tables[name]]
