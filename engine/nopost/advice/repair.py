"""Expected cost of repair: fixes in turn until the machine starts, or the shop.

Masses are (K,) or (B, K) probabilities of K ways to be broken (the last one may be mended by nothing); `chance` is (K, A)
the chance that each of A fixes mends each way; `cost` is (A,) what each fix costs with its trial, all above 0; `shop` is
what ends it for certain. Masses need not sum to 1: every expected cost scales with their sum.

Sources: ratio rule and stopping at the shop: Heckerman, Breese & Rommelse 1995, CACM 38(3) pp. 49-57; dependent fixes break the
ratio rule, so whole sequences are compared: Jensen et al. 2001, AI EDAM 15, 321-333.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from nopost.advice.falling import NOTHING, falling_ratio
from nopost.belief.hypotheses import Floats, Ints

LOOK_AHEAD_STEPS = 10
EXACT_ACTIONS = 10
"""2 to this power sets of fixes are compared exactly."""


@dataclass(frozen=True, slots=True)
class Plan:
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
    for action, left in falling_ratio(mass, chance, cost, LOOK_AHEAD_STEPS):
        total += cost[action] * rest
        rest = left
        np.minimum(best, total + shop * rest, out=best)
    return np.asarray(best)


def exact_cost(mass: Floats, chance: Floats, cost: Floats, shop: float, exact: int = EXACT_ACTIONS) -> Floats:
    """(B,) expected cost of the best plan for each row of (B, K) masses."""
    return np.asarray(_solve(mass, chance, cost, shop, exact)[2][:, 0])


def best_plan(mass: Floats, chance: Floats, cost: Floats, shop: float, exact: int = EXACT_ACTIONS) -> Plan:
    """The cheapest sequence among all orders of the `exact` most promising fixes, by dynamic programming over sets.

    The chance that the machine is still broken depends only on which fixes were done, not on their order.
    """
    chosen, broken, values = (rows[0] for rows in _solve(mass[None, :], chance, cost, shop, exact))
    done, fixes, needed = 0, [], []
    while (place := _next(done, broken, values, cost[chosen], shop)) is not None:
        fixes.append(int(chosen[place]))
        needed.append(float(broken[done] / broken[0]))
        done |= 1 << place
    return Plan(float(values[0]), tuple(fixes), tuple(needed))


def _solve(mass: Floats, chance: Floats, cost: Floats, shop: float, exact: int) -> tuple[Ints, Floats, Floats]:
    """(B, n) promising fixes of each row; for each set of them, (B, 2**n) each: P(still broken) and the expected cost from there.

    Promising are those that the ratio rule takes one after the other, which spreads them over the causes.
    """
    steps = [action for action, _ in falling_ratio(mass, chance, cost, exact)]
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
    best, place = shop * broken[done] - NOTHING, None
    for action in range(len(cost)):
        if not done >> action & 1:
            tried = cost[action] * broken[done] + values[done | 1 << action]
            if tried < best - NOTHING * (place is not None):
                best, place = tried, action
    return place
