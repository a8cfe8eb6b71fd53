"""Expected cost of repair: fixes in turn until the machine starts, or the last resort.

Masses are (K,) or (B, K) probabilities of K faults (the last one may be mended by nothing); `chance` is (K, A) the chance that
each of A fixes mends each fault; `cost` is (A,) what each fix costs with its trial, all above 0; `shop` is what ends it for
certain. Masses need not sum to 1: every expected cost scales with their sum.

Sources: efficiency p/C and stopping at the last resort: Heckerman, Breese & Rommelse 1995, CACM 38(3) pp. 49-57; dependent fixes
break that order, so whole sequences are compared: Jensen et al. 2001, AI EDAM 15, 321-333.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from nopost.diagnosis.belief.hypotheses import Floats, Ints

NEGLIGIBLE_GAIN = 1e-9
LOOKUP_COST = 60
"""Looking one number up by its index takes about as long as so many products of whole matrices (measured)."""


def greedy_by_efficiency(mass: Floats, chance: Floats, cost: Floats, count: int) -> Iterator[tuple[Ints, Floats]]:
    """Up to `count` times: (B,) the fix of the greatest ratio in each row, and (B,) the mass that is left when it fails."""
    rows = np.arange(len(mass))
    left = _Sparse(mass, chance, cost) if _is_sparse(chance) else _Dense(mass, chance, cost)
    unused = np.ones((len(mass), len(cost)), dtype=bool)
    for _ in range(min(count, len(cost))):
        ratio = np.where(unused, left.ratio(), -1.0)
        action = ratio.argmax(axis=1)
        if ratio[rows, action].max(initial=0.0) <= NEGLIGIBLE_GAIN:
            return
        left.fail(action)
        unused[rows, action] = False
        yield action, left.total()


def _is_sparse(chance: Floats) -> bool:
    """Whether so few fixes help so few causes that it is quicker to follow each than to multiply the whole matrix."""
    helps = chance != 0
    most = helps.sum(axis=0).max(initial=0) * helps.sum(axis=1).max(initial=0)
    return bool(most * LOOKUP_COST < chance.size)


class _Dense:
    """What is left, with products of whole matrices."""

    def __init__(self, mass: Floats, chance: Floats, cost: Floats) -> None:
        self._left, self._stays, self._weight = mass, 1 - chance.T, chance / cost

    def ratio(self) -> Floats:
        """(B, A) chance over cost of each fix now."""
        return np.asarray(self._left @ self._weight)

    def fail(self, action: Ints) -> None:
        """In each row this fix has failed."""
        self._left = self._left * self._stays[action]

    def total(self) -> Floats:
        """(B,) what is left in each row."""
        return np.asarray(self._left.sum(axis=1))


class _Sparse:
    """The same, following only what a fix touches: the causes that it helps, and the other fixes that help these.

    One column more stands for no cause and no fix, where short lists are filled up.
    """

    def __init__(self, mass: Floats, chance: Floats, cost: Floats) -> None:
        self._rows = np.arange(len(mass))[:, None]
        self._left = np.hstack([mass, np.zeros((len(mass), 1))])
        self._ratio = np.hstack([mass @ (chance / cost), np.zeros((len(mass), 1))])
        self._total = mass.sum(axis=1)
        self._causes, self._chance = _listed(chance.T)
        self._fixes, self._weight = _listed(np.vstack([chance / cost, np.zeros((1, len(cost)))]))

    def ratio(self) -> Floats:
        """(B, A) chance over cost of each fix now."""
        return np.asarray(self._ratio[:, :-1])

    def fail(self, action: Ints) -> None:
        """In each row this fix has failed."""
        causes = self._causes[action]
        mended = self._left[self._rows, causes] * self._chance[action]
        self._left[self._rows, causes] -= mended
        self._total = self._total - mended.sum(axis=1)
        for cause, share in zip(causes.T, mended.T, strict=True):  # one at a time, for two causes may have a fix in common
            self._ratio[self._rows, self._fixes[cause]] -= share[:, None] * self._weight[cause]

    def total(self) -> Floats:
        """(B,) what is left in each row."""
        return np.asarray(self._total)


def _listed(matrix: Floats) -> tuple[Ints, Floats]:
    """(N, most) places of the numbers that are not 0 in each row, and these numbers; filled up with the place after the last."""
    there = matrix != 0
    count = there.sum(axis=1)
    columns = np.full((len(matrix), int(count.max(initial=0))), matrix.shape[1], dtype=np.intp)
    numbers = np.zeros(columns.shape)
    row, column = np.nonzero(there)
    place = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    columns[row, place], numbers[row, place] = column, matrix[row, column]
    return columns, numbers


LOOK_AHEAD_STEPS = 10
EXACT_ACTIONS = 10
"""2 to this power sets of fixes are compared exactly."""


@dataclass(frozen=True, slots=True)
class RepairPlan:
    """The best sequence of fixes before the shop: its expected cost, the fixes by index, and the chance that each is needed."""

    cost: float
    fixes: tuple[int, ...]
    needed: tuple[float, ...]


def sequence_cost(order: Sequence[int], mass: Floats, chance: Floats, cost: Floats, shop: float = 0.0) -> float:
    """Expected cost of these fixes in this order, then the shop for what is left."""
    left = mass.astype(float).copy()
    total = 0.0
    for action in order:
        total += cost[action] * left.sum()
        left *= 1 - chance[:, action]
    return float(total + shop * left.sum())


def greedy_cost(mass: Floats, chance: Floats, cost: Floats, shop: float) -> Floats:
    """(B,) expected cost of each row of (B, K) masses: falling chance over cost, recomputed after each failure, then the shop."""
    rest = mass.sum(axis=1)
    total, best = np.zeros(len(mass)), shop * rest
    for action, left in greedy_by_efficiency(mass, chance, cost, LOOK_AHEAD_STEPS):
        total += cost[action] * rest
        rest = left
        np.minimum(best, total + shop * rest, out=best)
    return np.asarray(best)


def exact_cost(mass: Floats, chance: Floats, cost: Floats, shop: float, exact: int = EXACT_ACTIONS) -> Floats:
    """(B,) expected cost of the best plan for each row of (B, K) masses."""
    return np.asarray(_solve(mass, chance, cost, shop, exact)[2][:, 0])


def best_plan(mass: Floats, chance: Floats, cost: Floats, shop: float, exact: int = EXACT_ACTIONS) -> RepairPlan:
    """The cheapest sequence among all orders of the `exact` most promising fixes, by dynamic programming over sets.

    The chance that the machine is still broken depends only on which fixes were done, not on their order.
    """
    chosen, broken, values = (rows[0] for rows in _solve(mass[None, :], chance, cost, shop, exact))
    done, fixes, needed = 0, [], []
    while (place := _next(done, broken, values, cost[chosen], shop)) is not None:
        fixes.append(int(chosen[place]))
        needed.append(float(broken[done] / broken[0]))
        done |= 1 << place
    return RepairPlan(float(values[0]), tuple(fixes), tuple(needed))


def _solve(mass: Floats, chance: Floats, cost: Floats, shop: float, exact: int) -> tuple[Ints, Floats, Floats]:
    """(B, n) promising fixes of each row; for each set of them, (B, 2**n) each: P(still broken) and the expected cost from there.

    Promising are those that the ratio rule takes one after the other, which spreads them over the causes.
    """
    steps = [action for action, _ in greedy_by_efficiency(mass, chance, cost, exact)]
    chosen = np.array(steps, dtype=np.intp).reshape(len(steps), len(mass)).T
    broken = _still_broken(mass, 1 - chance.T[chosen])
    values, costs = shop * broken, cost[chosen]
    for sets, free, after in _layers(chosen.shape[1]):
        tried = costs[:, free] * broken[:, sets, None] + values[:, after]
        values[:, sets] = np.minimum(values[:, sets], tried.min(axis=2))
    return chosen, broken, values


def _still_broken(mass: Floats, stays: Floats) -> Floats:
    """(B, 2**n) probability of being still broken after each set of n fixes, the sets as bit masks; `stays` is (B, n, K)."""
    left = mass[:, None, :]
    for action in range(stays.shape[1]):
        left = np.concatenate([left, left * stays[:, action, None, :]], axis=1)
    return np.asarray(left.sum(axis=2), dtype=float)


@cache
def _layers(count: int) -> list[tuple[Ints, Ints, Ints]]:
    """For set sizes count - 1 down to 0: (L,) the sets, (L, f) the fixes not in each, (L, f) the sets with these added."""
    layers = []
    for size in range(count - 1, -1, -1):
        sets = np.array([s for s in range(1 << count) if s.bit_count() == size], dtype=np.intp)
        free = np.array([[a for a in range(count) if not s >> a & 1] for s in sets], dtype=np.intp)
        layers.append((sets, free, sets[:, None] | (1 << free)))
    return layers


def _next(done: int, broken: Floats, values: Floats, cost: Floats, shop: float) -> int | None:
    """The fix to do next after this set of them, the more promising one of equals; None: the shop."""
    best, place = shop * broken[done] - NEGLIGIBLE_GAIN, None
    for action in range(len(cost)):
        if not done >> action & 1:
            tried = cost[action] * broken[done] + values[done | 1 << action]
            if tried < best - NEGLIGIBLE_GAIN * (place is not None):
                best, place = tried, action
    return place
