"""Each table and the unknown map scored against a sequence, in both orders; natural logarithms."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from nopost.codes.event import Form, Order
from nopost.codes.likelihood import Run, model_of, unknown_map
from nopost.codes.tables import Table, TableSet

UNKNOWN_MAP = "unknown-map"
"""Name of the hypothesis that the codes follow a map of the board's own."""
UPWARDS = 0.56
"""Chance that a step of an unknown map goes to a range that comes later, as common practice has it. Judgement."""
UNKNOWN_SHARE = 0.1
"""Prior of the unknown map where no generic table gives it a weight. Judgement."""
TRUST = 0.55
"""Power to which likelihoods are raised: neighbouring codes are not as independent as the models have it, and private maps borrow
from open ones. Set so that stated probabilities match the share that is right on drawn sequences."""


@dataclass
class Scores:
    """Log joint of (hypothesis, order) with the likelihoods apart."""

    prior: Mapping[str, float]
    likelihood: dict[Order, dict[str, float]] = field(default_factory=dict)
    upwards: dict[Order, float] = field(default_factory=dict)

    def joint(self, order: Order) -> dict[str, float]:
        """Log probability of each hypothesis together with the codes in this order."""
        return {name: math.log(self.prior[name]) + TRUST * value for name, value in self.likelihood[order].items()}

    def evidence(self, order: Order, only: str | None = None) -> float:
        """Log probability of the codes in this order, of one hypothesis or over all of them.

        An unknown map leans on the ranges to have a direction at all.
        """
        joint = self.joint(order)
        joint[UNKNOWN_MAP] += self.upwards[order]
        return joint[only] if only is not None else log_sum(list(joint.values()))


def prior(tables: Sequence[Table], generic: Sequence[Table]) -> dict[str, float]:
    """Weights of the tables and of the unknown map (those of the generic tables), scaled to sum 1."""
    total = sum(t.weight for t in tables)
    unknown = sum(t.weight for t in generic) or (total or 1.0) * UNKNOWN_SHARE / (1 - UNKNOWN_SHARE)
    return {t.id: t.weight / (total + unknown) for t in tables} | {UNKNOWN_MAP: unknown / (total + unknown)}


def score(sequences: Mapping[Order, list[Run]], candidates: Sequence[Table], tables: TableSet, form: Form) -> Scores:
    """The scores of the candidates and the unknown map; generic tables of the form give that one its weight and its direction."""
    generic = [t for t in tables.of_form(form) if t.generic]
    scores = Scores(prior(candidates, generic))
    unknown = unknown_map(sequences[Order.OLDEST_FIRST])
    for order, sequence in sequences.items():
        scores.likelihood[order] = {t.id: model_of(t).log_likelihood(sequence) for t in candidates}
        scores.likelihood[order][UNKNOWN_MAP] = unknown
        scores.upwards[order] = _upwards(sequence, generic)
    return scores


def _upwards(sequence: Sequence[Run], generic: Sequence[Table]) -> float:
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
