"""What keeps the machine from starting, cause by cause: of a pair each cause is counted for half of it.

In a large base there are too many pairs for a table of answers each. The answers are summed up here by kinds of causes
(`AnswerLikelihood`) instead, over all pairs and exactly: for a finding that few causes touch, nearly all pairs are of one kind.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from nopost.diagnosis.belief.hypotheses import Floats, Hypotheses, Ints
from nopost.diagnosis.belief.likelihood import AnswerLikelihood


@dataclass(frozen=True)
class FaultMarginals:
    """Probabilities over C causes. `single`: (C,) of each alone; `halves`: (C, C) half of each pair, on both sides of the
    diagonal; `unlisted`: of none of them."""

    single: Floats
    halves: Floats
    unlisted: float

    @classmethod
    def of(cls, h: Hypotheses, now: Floats) -> FaultMarginals:
        """From (H,) probabilities."""
        count = len(h.causes)
        halves = np.zeros((count, count))
        halves[h.first[h.pairs], h.second[h.pairs]] = now[h.pairs] / 2
        return cls(now[:count], halves + halves.T, float(now[-1]))

    def mass(self) -> Floats:
        """(C + 1,) probability of each way to be broken, the unlisted one last."""
        return np.append(self.single + self._with_any, self.unlisted)

    def answers(self, shown: AnswerLikelihood, kept: Ints) -> Floats:
        """(K, answers) probability of each of these ways together with each answer."""
        listed = kept < len(self.single)
        causes = kept[listed]
        kind = shown.kind[causes]
        with_others = np.einsum("ku,kua->ka", self._partners(shown, causes), shown.pair[kind])
        result = np.empty((len(kept), len(shown.unlisted)))
        result[listed] = self.single[causes, None] * shown.single[kind] + with_others
        result[~listed] = self.unlisted * shown.unlisted
        return result

    def _partners(self, shown: AnswerLikelihood, causes: Ints) -> Floats:
        """(K, U) probability of each of these causes with a partner of each kind. The commonest kind is what the others leave."""
        most = int(np.bincount(shown.kind).argmax())
        result = np.zeros((len(causes), len(shown.single)))
        for other in np.flatnonzero(shown.kind != most):
            result[:, shown.kind[other]] += self.halves[other, causes]
        result[:, most] = np.maximum(self._with_any[causes] - result.sum(axis=1), 0.0)
        return result

    @cached_property
    def _with_any(self) -> Floats:
        """(C,) probability of each cause as half of any pair."""
        return np.asarray(self.halves.sum(axis=1))
