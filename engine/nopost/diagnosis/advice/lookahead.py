"""Which possible faults the advice considers: single hypotheses, or in a large knowledge base fault marginals.

Both leave out the improbable ones and say how much probability mass that truncates.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from nopost.diagnosis.belief.evidence import Evidence
from nopost.diagnosis.belief.fault_marginals import FaultMarginals
from nopost.diagnosis.belief.hypotheses import Floats, Ints
from nopost.diagnosis.belief.posterior import BeliefModel

NEGLIGIBLE_MASS = 1e-4
"""Probability mass that may be truncated when hypotheses are considered (judgement)."""
NEGLIGIBLE_FAULT_MASS = 1e-6
"""Probability mass that may be truncated when fault marginals are considered (judgement)."""
MANY_HYPOTHESES = 4_000
"""With more hypotheses than this fault marginals are considered: from here on that is quicker (measured), and in a large
knowledge base tables of all answers for each hypothesis would not fit into memory."""


class Lookahead(Protocol):
    """N cases of what may be wrong now, each shared out over K of the C + 1 faults (the causes, the unlisted one last).

    `belief`: (N,) probability of each case; `faults`: (K,) indexes of the faults; `fault_shares`: (N, K) how each case is shared
    out over them, or (K,) ones when case k is fault k; `truncated_mass`: probability that is not considered.
    """

    belief: Floats
    fault_shares: Floats
    faults: Ints
    truncated_mass: float

    def predictive_tables(self, findings: Sequence[str], evidence: Evidence) -> list[Floats]:
        """For each finding (N, answers) P(reported answer | case, evidence)."""


def lookahead(model: BeliefModel, current_posterior: Floats) -> Lookahead:
    """What is worth considering, from the (H,) probabilities of what is still wrong."""
    if len(current_posterior) > MANY_HYPOTHESES:
        return LookaheadByFault(model, current_posterior)
    return LookaheadByHypothesis(model, current_posterior)


class LookaheadByHypothesis:
    """Each case is a hypothesis; a pair is shared out evenly over its two causes."""

    def __init__(self, model: BeliefModel, current_posterior: Floats) -> None:
        self._model, hypotheses = model, model.hypotheses
        self._kept, self.truncated_mass = _most_probable(current_posterior, NEGLIGIBLE_MASS)
        sizes = hypotheses.sizes[self._kept, None]
        self.belief = current_posterior[self._kept]
        shares = np.hstack([hypotheses.members[self._kept] / np.maximum(sizes, 1), sizes == 0])
        self.faults = np.flatnonzero(shares.any(axis=0))
        self.fault_shares = shares[:, self.faults]

    def predictive_tables(self, findings: Sequence[str], evidence: Evidence) -> list[Floats]:
        """For each finding (N, answers) P(reported answer | hypothesis, evidence)."""
        return self._model.predict_many(findings, evidence, self._kept)


class LookaheadByFault:
    """Each case is a fault, summed up over all hypotheses.

    This is exact for one question ahead; two questions in a row count as independent given the fault.
    """

    def __init__(self, model: BeliefModel, current_posterior: Floats) -> None:
        self._model, self._marginals = model, FaultMarginals.from_posterior(model.hypotheses, current_posterior)
        mass = self._marginals.mass()
        self.faults, self.truncated_mass = _most_probable(mass, NEGLIGIBLE_FAULT_MASS)
        self.belief = mass[self.faults]
        self.fault_shares = np.ones(len(self.faults))

    def predictive_tables(self, findings: Sequence[str], evidence: Evidence) -> list[Floats]:
        """For each finding (N, answers) P(reported answer | fault, evidence)."""
        joint = (self._marginals.joint_with_answers(self._model.predicted_likelihood(f, evidence), self.faults) for f in findings)
        return [table / self.belief[:, None] for table in joint]


def _most_probable(mass: Floats, negligible: float) -> tuple[Ints, float]:
    """Indexes of the fewest entries that leave out no more than the negligible mass, and the mass that they leave out."""
    order = np.argsort(-mass, kind="stable")
    count = int(np.searchsorted(np.cumsum(mass[order]), 1 - negligible)) + 1
    return order[:count], float(mass[order[count:]].sum())
