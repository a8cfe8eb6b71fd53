"""What the belief is asked about: reports, repairs that failed and what rules add; and the repair history, in which a repair may
mend one of two causes, so that each pair is followed as what is left of it: both, only the first, or only the second.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.belief.hypotheses import Floats, Hypotheses, Ints


@dataclass(frozen=True)
class RepairHistory:
    """A course of events. `whole`: (H,) log P(events | hypothesis), where pairs do not count; `parts`: (3, pairs) log P(events,
    what is left of the pair now | pair)."""

    h: Hypotheses
    whole: Floats
    parts: Floats

    @classmethod
    def start(cls, h: Hypotheses) -> RepairHistory:
        """Nothing has happened yet."""
        parts = np.full((3, len(h.first[h.pairs])), -np.inf)
        parts[0] = 0.0
        return cls(h, np.zeros(len(h.first)), parts)

    def seen(self, log_seen: Floats) -> RepairHistory:
        """Something was seen; `log_seen`: (H,) its log likelihood given what is there."""
        i, j = self._pairs()
        parts = self.parts + np.array([log_seen[self.h.pairs], log_seen[i], log_seen[j]])
        return RepairHistory(self.h, self.whole + log_seen, parts)

    def failed(self, stays: Floats) -> RepairHistory:
        """A fix failed; `stays`: (C,) the chance that it leaves each cause there, above 0."""
        i, j = self._pairs()
        both, one, other = self.parts
        parts = np.array(
            [
                both + np.log(stays[i] * stays[j]),
                np.logaddexp(both + _log(stays[i] * (1 - stays[j])), one + np.log(stays[i])),
                np.logaddexp(both + _log((1 - stays[i]) * stays[j]), other + np.log(stays[j])),
            ]
        )
        return RepairHistory(self.h, self.whole + np.append(np.log(stays[self.h.first[:-1]]), 0.0), parts)

    def log(self) -> Floats:
        """(H,) log P(events | hypothesis)."""
        total = self.whole.copy()
        total[self.h.pairs] = np.logaddexp.reduce(self.parts, axis=0)
        return total

    def left(self) -> Floats:
        """(3, pairs) P(both, only the first, only the second is left | pair, events); of a pair that cannot be, both."""
        total = np.logaddexp.reduce(self.parts, axis=0)
        can_be = np.isfinite(total)
        return np.where(can_be, np.exp(self.parts - np.where(can_be, total, 0.0)), [[1.0], [0.0], [0.0]])

    def now(self, probabilities: Floats) -> Floats:
        """(H,) probability of what is left, from (H,) probabilities of what was there at first."""
        i, j = self._pairs()
        both, one, other = self.left() * probabilities[self.h.pairs]
        result = probabilities.copy()
        result[self.h.pairs] = both
        count = len(self.h.causes)
        result[:count] += np.bincount(i, one, count) + np.bincount(j, other, count)
        return result

    def _pairs(self) -> tuple[Ints, Ints]:
        return self.h.first[self.h.pairs], self.h.second[self.h.pairs]


def _log(values: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(values))


@dataclass(frozen=True, slots=True)
class Report:
    """An answer to a finding. `epoch`: how many fixes had been tried before it was seen."""

    finding: str
    answer: str
    epoch: int = 0


@dataclass(frozen=True, slots=True)
class Evidence:
    """All evidence. `tried`: actions in order after which the machine still does not start.

    `decibans`: (cause, decibans, rule); `ruled_out`: causes that are impossible; `unchanged`: epochs begun by a fix after which
    nothing had changed, so what was seen before still stands.
    """

    reports: tuple[Report, ...] = ()
    tried: tuple[str, ...] = ()
    decibans: tuple[tuple[str, float, str], ...] = ()
    ruled_out: frozenset[str] = frozenset()
    unchanged: frozenset[int] = frozenset()

    def standing(self, epoch: int) -> tuple[Report, ...]:
        """Reports of earlier epochs since which nothing has changed."""
        start = epoch
        while start in self.unchanged:
            start -= 1
        return tuple(r for r in self.reports if start <= r.epoch < epoch) if start < epoch else ()
