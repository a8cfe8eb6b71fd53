"""The hypotheses and their priors: each cause alone, each pair of causes, and one for a cause that nobody listed."""

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
    """H hypotheses over C causes: first the C single causes in order, then the pairs, last the unlisted one.

    `causes`: (C,) ids. `first`, `second`: (H,) indexes of the causes of each hypothesis; for a single cause `second` repeats
    `first`; both are -1 for unlisted. `log_prior`: (H,) natural logarithms of the priors, which sum to 1.
    """

    causes: tuple[str, ...]
    first: Ints
    second: Ints
    log_prior: Floats

    @property
    def pairs(self) -> slice:
        """The places of the pairs among the hypotheses."""
        return slice(len(self.causes), len(self.first) - 1)

    @cached_property
    def members(self) -> Floats:
        """(H, C) 1.0 where the cause belongs to the hypothesis. Computed on first use; large in a large knowledge base."""
        members = np.zeros((len(self.first), len(self.causes)))
        rows = np.arange(len(self.first) - 1)
        members[rows, self.first[:-1]] = 1.0
        members[rows, self.second[:-1]] = 1.0
        return members

    @cached_property
    def sizes(self) -> Floats:
        """(H,) number of causes in each hypothesis: 1, 2, or 0 for unlisted."""
        return np.where(self.first < 0, 0.0, np.where(self.first == self.second, 1.0, 2.0))

    def has(self, cause: int) -> Flags:
        """(H,) whether the cause with this index belongs to each hypothesis."""
        return np.asarray((self.first == cause) | (self.second == cause))

    def marginals(self, probabilities: Floats) -> Floats:
        """(C,) probability that each cause is present, alone or in a pair, from (H,) probabilities."""
        count, pairs = len(self.causes), probabilities[self.pairs]
        return np.asarray(
            probabilities[:count]
            + np.bincount(self.first[self.pairs], pairs, count)
            + np.bincount(self.second[self.pairs], pairs, count)
        )


def build_hypotheses(causes: Mapping[str, Cause], base: Base) -> Hypotheses:
    """The hypotheses of a knowledge base.

    The prior of a set is the product of its causes' scaled weights, given that at least one cause is present. The scale makes
    all pairs together `base.two_faults` times as probable as all single causes together; `base.unlisted_share` is the prior of
    unlisted. Of the prior of a cause alone, its couplings (`base.coupled`) give their shares to the pairs that they name.
    """
    names = tuple(causes)
    weights = np.array([causes[name].weight for name in names], dtype=float)
    single = np.arange(len(names))
    i, j = _possible_pairs([causes[name] for name in names])
    odds = weights * _scale(weights, i, j, base.two_faults)
    listed = np.concatenate([odds, odds[i] * odds[j]])
    _couple(listed, names, i, j, base)
    listed /= listed.sum()
    prior = np.append(listed * (1 - base.unlisted_share), base.unlisted_share)
    first = np.concatenate([single, i, [-1]])
    second = np.concatenate([single, j, [-1]])
    return Hypotheses(names, first, second, np.log(prior))


def _couple(listed: Floats, names: Sequence[str], i: Ints, j: Ints, base: Base) -> None:
    """Move the share of each coupling from the cause alone to the pair: the sum stays, and so does how often the cause is there.

    A coupling with a cause that is not among these says nothing. Raises ValueError for two causes that form no pair, which the
    checks of a knowledge base keep out.
    """
    place = (
        {frozenset((int(a), int(b))): len(names) + k for k, (a, b) in enumerate(zip(i, j, strict=True))} if base.coupled else {}
    )
    alone = listed[: len(names)].copy()
    for coupling in base.coupled:
        if not {coupling.first, coupling.second} <= set(names):
            continue
        first, second = names.index(coupling.first), names.index(coupling.second)
        if frozenset((first, second)) not in place:
            raise ValueError(f"{coupling.first} and {coupling.second} form no pair")
        moved = coupling.share * alone[first]
        listed[first] -= moved
        listed[place[frozenset((first, second))]] += moved


def _possible_pairs(causes: Sequence[Cause]) -> tuple[Ints, Ints]:
    """(P,) indexes of the first and of the second cause of all pairs; a cause marked `alone` forms none."""
    combinable = np.array([k for k, cause in enumerate(causes) if not cause.alone], dtype=np.intp)
    upper = np.triu_indices(len(combinable), k=1)
    return combinable[upper[0]], combinable[upper[1]]


def _scale(weights: Floats, i: Ints, j: Ints, two_faults: float) -> float:
    """The s for which the sum over pairs of s*w_i * s*w_j equals two_faults * the sum of s*w_i; 1 without pairs."""
    product_sum = float((weights[i] * weights[j]).sum())
    return two_faults * float(weights.sum()) / product_sum if product_sum > 0 else 1.0
