"""What the advice looks at: the hypotheses that matter, or in a large base the ways to be broken that do.

Both leave out a little probability, and say how much.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from nopost.diagnosis.belief.evidence import Evidence
from nopost.diagnosis.belief.fault_marginals import FaultMarginals
from nopost.diagnosis.belief.hypotheses import Floats, Ints
from nopost.diagnosis.belief.posterior import BeliefModel

NEGLIGIBLE = 1e-4
"""Probability mass that the look-ahead may leave out."""
NEGLIGIBLE_FAULTS = 1e-6
"""The same where it goes by ways to be broken."""
MANY = 4_000
"""With more hypotheses than this it goes by ways: from here on that is quicker (measured), and in a large base tables of all
answers for each hypothesis would not fit into memory."""


class Lookahead(Protocol):
    """N things that may be wrong now. `belief`: (N,); `shares`: how each shares out over the ways to be broken `rows` (the last
    of all ways is the unlisted one): (N, K), or (K,) when each is one way; `left_out`: probability that is not looked at."""

    belief: Floats
    shares: Floats
    rows: Ints
    left_out: float

    def tables(self, findings: Sequence[str], evidence: Evidence) -> list[Floats]:
        """For each finding (N, answers) P(reported answer | each of them)."""


def lookahead(model: BeliefModel, now: Floats) -> Lookahead:
    """What is worth looking at, of (H,) probabilities of what is still wrong."""
    return ByFault(model, now) if len(now) > MANY else ByHypothesis(model, now)


class ByHypothesis:
    """The hypotheses that matter."""

    def __init__(self, model: BeliefModel, now: Floats) -> None:
        self._model, h = model, model.h
        self._kept, self.left_out = _heaviest(now, NEGLIGIBLE)
        sizes = h.sizes[self._kept, None]
        self.belief = now[self._kept]
        shares = np.hstack([h.members[self._kept] / np.maximum(sizes, 1), sizes == 0])
        self.rows = np.flatnonzero(shares.any(axis=0))
        self.shares = shares[:, self.rows]

    def tables(self, findings: Sequence[str], evidence: Evidence) -> list[Floats]:
        """By hypothesis."""
        return self._model.predict_some(findings, evidence, self._kept)


class ByFault:
    """The ways to be broken that matter, summed up over all hypotheses. One question ahead that is exact; two in a row count as
    independent of each other given the way."""

    def __init__(self, model: BeliefModel, now: Floats) -> None:
        self._model, self._ways = model, FaultMarginals.of(model.h, now)
        mass = self._ways.mass()
        self.rows, self.left_out = _heaviest(mass, NEGLIGIBLE_FAULTS)
        self.belief = mass[self.rows]
        self.shares = np.ones(len(self.rows))

    def tables(self, findings: Sequence[str], evidence: Evidence) -> list[Floats]:
        """By way."""
        return [self._ways.answers(self._model.predicted(f, evidence), self.rows) / self.belief[:, None] for f in findings]


def _heaviest(mass: Floats, negligible: float) -> tuple[Ints, float]:
    """The fewest that leave out no more than this, and how much they leave out."""
    order = np.argsort(-mass, kind="stable")
    count = int(np.searchsorted(np.cumsum(mass[order]), 1 - negligible)) + 1
    return order[:count], float(mass[order[count:]].sum())
