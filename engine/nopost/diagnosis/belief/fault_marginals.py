"""Fault marginals: the probability of each cause, where a pair counts half for each of its two causes.

A large knowledge base has too many pairs for a table of answers each. Here answers are summed up over all pairs by the classes
of causes that have the same effect (`AnswerLikelihood`). That is exact, and quick, because for a finding that few causes affect
nearly all pairs are of one class.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from nopost.diagnosis.belief.hypotheses import Floats, Hypotheses, Ints
from nopost.diagnosis.belief.likelihood import AnswerLikelihood


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
