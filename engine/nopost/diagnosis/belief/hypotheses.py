"""The hypotheses: each cause alone, each pair of causes, and one for what nobody wrote down."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nopost.knowledge.model import Base, Cause

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Hypotheses:
    """H hypotheses over C causes: first the C single ones in order, then the pairs, last the unlisted one.

    `first`, `second`: (H,) indexes of the causes; `second` repeats `first` for a single one; both are -1 for unlisted.
    `log_prior`: (H,) natural logarithms.
    """

    causes: tuple[str, ...]
    first: Ints
    second: Ints
    log_prior: Floats

    @property
    def pairs(self) -> slice:
        """Where the pairs are."""
        return slice(len(self.causes), len(self.first) - 1)

    @cached_property
    def members(self) -> Floats:
        """(H, C) 1.0 where the cause belongs to the hypothesis; made when first asked for, and large in a large base."""
        members = np.zeros((len(self.first), len(self.causes)))
        rows = np.arange(len(self.first) - 1)
        members[rows, self.first[:-1]] = 1.0
        members[rows, self.second[:-1]] = 1.0
        return members

    @cached_property
    def sizes(self) -> Floats:
        """(H,) number of causes in each."""
        return np.where(self.first < 0, 0.0, np.where(self.first == self.second, 1.0, 2.0))

    def has(self, cause: int) -> Flags:
        """(H,) whether a cause belongs to each."""
        return np.asarray((self.first == cause) | (self.second == cause))

    def marginals(self, probabilities: Floats) -> Floats:
        """(C,) probability that each cause is there."""
        count, pairs = len(self.causes), probabilities[self.pairs]
        return np.asarray(
            probabilities[:count]
            + np.bincount(self.first[self.pairs], pairs, count)
            + np.bincount(self.second[self.pairs], pairs, count)
        )


def build_hypotheses(causes: Mapping[str, Cause], base: Base) -> Hypotheses:
    """Prior of a set: the product of its causes' scaled weights, given that there is at least one.

    The scale makes pairs together `two_faults` times as probable as single causes together.
    """
    names = tuple(causes)
    weights = np.array([causes[name].weight for name in names], dtype=float)
    single = np.arange(len(names))
    i, j = _pairs([causes[name] for name in names])
    odds = weights * _scale(weights, i, j, base.two_faults)
    listed = np.concatenate([odds, odds[i] * odds[j]])
    listed /= listed.sum()
    prior = np.append(listed * (1 - base.unlisted_share), base.unlisted_share)
    first = np.concatenate([single, i, [-1]])
    second = np.concatenate([single, j, [-1]])
    return Hypotheses(names, first, second, np.log(prior))


def _pairs(causes: Sequence[Cause]) -> tuple[Ints, Ints]:
    """Indexes of all pairs of causes that can be together."""
    social = np.array([k for k, cause in enumerate(causes) if not cause.alone], dtype=np.intp)
    upper = np.triu_indices(len(social), k=1)
    return social[upper[0]], social[upper[1]]


def _scale(weights: Floats, i: Ints, j: Ints, two_faults: float) -> float:
    """s such that sum over pairs of s*w_i * s*w_j = two_faults * sum of s*w_i."""
    together = float((weights[i] * weights[j]).sum())
    return two_faults * float(weights.sum()) / together if together > 0 else 1.0
