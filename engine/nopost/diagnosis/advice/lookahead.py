"""What the advice looks ahead over: the hypotheses that matter, or, in a large base, the fault marginals.

Fault marginals say what keeps the machine from starting, cause by cause: of a pair each cause is counted for half of it. In a
large base there are too many pairs for a table of answers each; the answers are summed up over all pairs by kinds of causes
(`AnswerLikelihood`) instead, exactly: for a finding that few causes touch, nearly all pairs are of one kind. Both ways leave out
a little probability, the truncated mass, and say how much.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from nopost.diagnosis.belief.evidence import Evidence
from nopost.diagnosis.belief.hypotheses import Floats, Hypotheses, Ints
from nopost.diagnosis.belief.likelihood import AnswerLikelihood
from nopost.diagnosis.belief.posterior import BeliefModel


@dataclass(frozen=True)
class FaultMarginals:
    """Probabilities over C causes and unlisted, C + 1 faults in all, the unlisted one last.

    `single`: (C,) of each cause alone; `pair_shares`: (C, C) half of the probability of each pair, symmetric; `unlisted`: that
    no listed cause is present.
    """

    single: Floats
    pair_shares: Floats
    unlisted: float

    @classmethod
    def from_posterior(cls, hypotheses: Hypotheses, posterior: Floats) -> FaultMarginals:
        """From (H,) probabilities."""
        count = len(hypotheses.causes)
        shares = np.zeros((count, count))
        shares[hypotheses.first[hypotheses.pairs], hypotheses.second[hypotheses.pairs]] = posterior[hypotheses.pairs] / 2
        return cls(posterior[:count], shares + shares.T, float(posterior[-1]))

    def mass(self) -> Floats:
        """(C + 1,) probability of each fault; they sum to that of all hypotheses."""
        return np.append(self.single + self._in_any_pair, self.unlisted)

    def joint_with_answers(self, likelihood: AnswerLikelihood, faults: Ints) -> Floats:
        """(K, answers) P(fault and answer) for the K faults with these indexes."""
        listed = faults < len(self.single)
        causes = faults[listed]
        class_of_cause = likelihood.class_of_cause[causes]
        in_pairs = np.einsum("ku,kua->ka", self._partner_class_mass(likelihood, causes), likelihood.by_class_pair[class_of_cause])
        result = np.empty((len(faults), len(likelihood.unlisted)))
        result[listed] = self.single[causes, None] * likelihood.by_class[class_of_cause] + in_pairs
        result[~listed] = self.unlisted * likelihood.unlisted
        return result

    def _partner_class_mass(self, likelihood: AnswerLikelihood, causes: Ints) -> Floats:
        """(K, U) probability of each of these causes together with a partner of each class.

        The mass of the commonest class is what the other classes leave, so that its many partners need not be summed up.
        """
        commonest = int(np.bincount(likelihood.class_of_cause).argmax())
        result = np.zeros((len(causes), len(likelihood.by_class)))
        for partner in np.flatnonzero(likelihood.class_of_cause != commonest):
            result[:, likelihood.class_of_cause[partner]] += self.pair_shares[partner, causes]
        result[:, commonest] = np.maximum(self._in_any_pair[causes] - result.sum(axis=1), 0.0)
        return result

    @cached_property
    def _in_any_pair(self) -> Floats:
        """(C,) probability of each cause as half of any pair."""
        return np.asarray(self.pair_shares.sum(axis=1))


NEGLIGIBLE_MASS = 1e-3
"""Probability mass that may be truncated when hypotheses are considered (judgement)."""
NEGLIGIBLE_FAULT_MASS = 1e-6
"""Probability mass that may be truncated when fault marginals are considered (judgement)."""
MANY_HYPOTHESES = 10_000
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

    def predictive_tables(self, findings: Sequence[str], evidence: Evidence, *, again: bool = False) -> list[Floats]:
        """For each finding (N, answers) P(reported answer | case, evidence); `again`: of a second look at what was answered."""


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
        self.faults, rare = _most_probable(self.belief @ shares, NEGLIGIBLE_MASS)
        self.truncated_mass += rare
        self.fault_shares = shares[:, self.faults]

    def predictive_tables(self, findings: Sequence[str], evidence: Evidence, *, again: bool = False) -> list[Floats]:
        """For each finding (N, answers) P(reported answer | hypothesis, evidence)."""
        return self._model.predict_many(findings, evidence, self._kept, again=again)


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

    def predictive_tables(self, findings: Sequence[str], evidence: Evidence, *, again: bool = False) -> list[Floats]:
        """For each finding (N, answers) P(reported answer | fault, evidence)."""
        likelihoods = (self._model.predicted_likelihood(finding, evidence, again=again) for finding in findings)
        joint = (self._marginals.joint_with_answers(likelihood, self.faults) for likelihood in likelihoods)
        return [table / self.belief[:, None] for table in joint]


def _most_probable(mass: Floats, negligible: float) -> tuple[Ints, float]:
    """Indexes of the fewest entries that leave out no more than the negligible mass, and the mass that they leave out."""
    order = np.argsort(-mass, kind="stable")
    count = int(np.searchsorted(np.cumsum(mass[order]), 1 - negligible)) + 1
    return order[:count], float(mass[order[count:]].sum())
