"""Which code table a sequence comes from, which way it runs, and what a code means under each table that may be the right one."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nopost.codes.event import Event, Form, Order
from nopost.codes.likelihood import Run, marked, runs
from nopost.codes.scores import UNKNOWN_MAP, Scores, log_sum, score
from nopost.codes.tables import Table, TableSet
from nopost.knowledge.model import Code

OLDEST_FIRST_ODDS = 4.0
"""Prior odds that a sequence is noted in order of time. Judgement."""
WORTH_SAYING = 0.02
"""A table less probable than this is not quoted."""
BAD_FIT = 1.0
"""Nats per code below which the best table explains the codes badly."""


@dataclass(frozen=True, slots=True)
class Inference:
    """What is believed about the map.

    `posterior`: (name, probability) of every table that is a hypothesis and of the unknown map, falling, sum 1. `order`: how
    the events handed in run. `order_log_odds`: log odds (nats) of oldest first against newest first, prior included. `fits`:
    mean log-likelihood ratio per code (nats) of the best table, or the given one, against the unknown map; 0 when there is
    nothing to compare. `known`: share of the different codes that this table has. `closest`: that table, "" when there is none.
    """

    posterior: tuple[tuple[str, float], ...]
    best: str
    order: Order
    order_log_odds: float
    fits: float
    note: str
    form: Form = Form.HEX
    closest: str = ""
    known: float = 0.0

    @property
    def probability(self) -> float:
        """Of the best."""
        return dict(self.posterior)[self.best]


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a code means if `table` is the right one, and how probable that is. Rows as the table has them."""

    table: str
    probability: float
    rows: tuple[Code, ...]


def infer_table(
    events: Sequence[Event],
    tables: TableSet,
    *,
    given: str | None = None,
    form: Form | None = None,
    order_given: bool = False,
) -> Inference:
    """The posterior over the tables of the events' form and the unknown map; all on `given` when it names a table.

    `form`: guessed from the codes when None. `order_given`: the events are in order of time for certain. UnknownNameError when
    no table is called `given`.
    """
    told = _told(given, tables)
    form = form or (told.form if told else tables.form_of(event.code for event in events))
    candidates = [t for t in tables.of_form(form) if not t.generic]
    if told is not None and not told.generic and told not in candidates:
        candidates.append(told)
    sequences = _both_orders(events, form)
    scores = score(sequences, candidates, tables, form)
    only = None if given is None else _hypothesis(told)
    odds = _order_log_odds(scores, only)
    order = Order.OLDEST_FIRST if order_given or odds >= 0 else Order.NEWEST_FIRST
    posterior = _posterior(scores.joint(order), only)
    return _finish(posterior, scores.likelihood[order], sequences[order], tables, (order, odds, form), given)


def _told(given: str | None, tables: TableSet) -> Table | None:
    """The table named; None for no name and for the unknown map."""
    if given is None or given == UNKNOWN_MAP:
        return None
    return tables.named(given)


def _hypothesis(told: Table | None) -> str:
    """A generic table is no map of its own: naming it means that the map is unknown."""
    return UNKNOWN_MAP if told is None or told.generic else told.id


def _both_orders(events: Sequence[Event], form: Form) -> dict[Order, list[Run]]:
    """The runs as they would follow in time under each order."""
    sequence = runs(events, form)
    return {Order.OLDEST_FIRST: sequence, Order.NEWEST_FIRST: marked(reversed(sequence))}


def _order_log_odds(scores: Scores, only: str | None) -> float:
    forward, backward = scores.evidence(Order.OLDEST_FIRST, only), scores.evidence(Order.NEWEST_FIRST, only)
    return math.log(OLDEST_FIRST_ODDS) + forward - backward


def _posterior(joint: Mapping[str, float], told: str | None) -> tuple[tuple[str, float], ...]:
    """Normalised and falling; names break ties."""
    if told is not None:
        ranked = [(name, float(name == told)) for name in joint]
    else:
        total = log_sum(list(joint.values()))
        ranked = [(name, math.exp(value - total)) for name, value in joint.items()]
    return tuple(sorted(ranked, key=lambda pair: (-pair[1], pair[0])))


def _finish(
    posterior: tuple[tuple[str, float], ...],
    likelihood: Mapping[str, float],
    sequence: Sequence[Run],
    tables: TableSet,
    read: tuple[Order, float, Form],
    given: str | None,
) -> Inference:
    """The result with its fit and its note."""
    best = posterior[0][0]
    closest = next((name for name, _ in posterior if name != UNKNOWN_MAP), "")
    if given is not None and best == UNKNOWN_MAP:
        closest = max((name for name in likelihood if name != UNKNOWN_MAP), key=likelihood.__getitem__, default="")
    counted = sum(run.counted for run in sequence)
    fits = (likelihood[closest] - likelihood[UNKNOWN_MAP]) / counted if closest and counted else 0.0
    codes = {run.code for run in sequence}
    known = sum(bool(tables.tables[closest].look_up(c).rows) for c in codes) / len(codes) if closest and codes else 0.0
    order, odds, form = read
    note = _note(best, dict(posterior)[best], fits, counted, given)
    return Inference(posterior, best, order, odds, fits, note, form, closest, known)


def _note(best: str, probability: float, fits: float, counted: int, given: str | None) -> str:
    """One sentence for the person."""
    if given is not None and best == UNKNOWN_MAP:
        return "The map of this board is taken as unknown, as told; codes are read by ranges."
    if given is not None:
        doubt = f", though the codes do not fit it ({fits:+.1f} nats per code)" if counted and fits < 0 else ""
        return f"Read with the table {best}, as told{doubt}."
    if not counted:
        return "There is nothing here that tells one map from another."
    if best == UNKNOWN_MAP:
        return f"No table explains these codes well; the board seems to use a map of its own (probability {probability:.0%})."
    if fits < BAD_FIT:
        return f"The table {best} is the likeliest (probability {probability:.0%}), but it explains the codes badly."
    return f"The codes look like the table {best} (probability {probability:.0%})."


def meanings(code: str, tables: TableSet, inference: Inference, kind: str = "") -> list[Meaning]:
    """What a code means under every table that is probable enough to be quoted and knows it, likeliest first.

    The unknown map speaks through the generic tables of the form, under their names. `kind`: progress or error when the source
    says so.
    """
    result = []
    for name, probability in inference.posterior:
        if probability >= WORTH_SAYING:
            for table in _spokesmen(name, tables, inference.form):
                rows = table.find(code, kind)
                if rows:
                    result.append(Meaning(table.id, probability, tuple(rows)))
    return result


def _spokesmen(name: str, tables: TableSet, form: Form) -> list[Table]:
    return [t for t in tables.of_form(form) if t.generic] if name == UNKNOWN_MAP else [tables.tables[name]]
