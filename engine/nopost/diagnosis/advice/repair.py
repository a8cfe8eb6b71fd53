"""Expected cost of repair: fixes one after the other until the machine starts, or the last resort, which always ends it.

Arguments throughout: `mass`: (K,) or (B, K) probabilities of K faults, the last of which no fix may remove;
`repair_probability`: (K, A) P(fix removes fault) for A fixes; `fix_costs`: (A,) cost of each fix with trying the machine
afterwards, all above 0; `last_resort_cost`: cost of the last resort (the repair shop). Costs are in money. Masses need not sum to
1: every expected cost scales with their sum.

Sources: order by efficiency p/C and stopping at the last resort: Heckerman, Breese & Rommelse 1995, CACM 38(3), pp. 49-57.
Dependent fixes break that order, so whole sequences are compared: Jensen et al. 2001, AI EDAM 15, pp. 321-333.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from nopost.diagnosis.belief.hypotheses import Floats, Ints

NEGLIGIBLE_GAIN = 1e-9
"""Efficiencies and savings up to this are rounding."""
LOOKUP_COST = 60
"""Looking up one number by its index takes about as long as this many multiplications in a product of matrices (measured)."""


def greedy_by_efficiency(
    mass: Floats, repair_probability: Floats, fix_costs: Floats, count: int
) -> Iterator[tuple[Ints, Floats]]:
    """In each row of (B, K) masses the fix of greatest efficiency p/C, computed again after each failure, `count` times at most.

    Yields:
        (B,) indexes of the fixes, and (B,) mass that remains when they fail. Ends when no fix has any efficiency.
    """
    rows = np.arange(len(mass))
    remaining_class = _SparseRemaining if _is_sparse(repair_probability) else _DenseRemaining
    remaining = remaining_class(mass, repair_probability, fix_costs)
    unused = np.ones((len(mass), len(fix_costs)), dtype=bool)
    for _ in range(min(count, len(fix_costs))):
        efficiency = np.where(unused, remaining.efficiency(), -1.0)
        fix = efficiency.argmax(axis=1)
        if efficiency[rows, fix].max(initial=0.0) <= NEGLIGIBLE_GAIN:
            return
        remaining.fail(fix)
        unused[rows, fix] = False
        yield fix, remaining.total()


def _is_sparse(repair_probability: Floats) -> bool:
    """Whether so few fixes help so few faults that following each is quicker than multiplying the whole matrix."""
    helps = repair_probability != 0
    most = helps.sum(axis=0).max(initial=0) * helps.sum(axis=1).max(initial=0)
    return bool(most * LOOKUP_COST < repair_probability.size)


class _DenseRemaining:
    """The (B, K) masses that remain after failed fixes, by products of whole matrices."""

    def __init__(self, mass: Floats, repair_probability: Floats, fix_costs: Floats) -> None:
        self._mass, self._persistence = mass, 1 - repair_probability.T
        self._efficiency_per_mass = repair_probability / fix_costs

    def efficiency(self) -> Floats:
        """(B, A) efficiency p/C of each fix now, times the mass of the row."""
        return np.asarray(self._mass @ self._efficiency_per_mass)

    def fail(self, fix: Ints) -> None:
        """The (B,) fixes, one of each row, have failed."""
        self._mass = self._mass * self._persistence[fix]

    def total(self) -> Floats:
        """(B,) mass that remains in each row."""
        return np.asarray(self._mass.sum(axis=1))


class _SparseRemaining:
    """The same, updating only what a fix affects: the faults that it removes, and the other fixes that remove these.

    One more column stands for no fault, and one for no fix; short lists of indexes are filled up with it.
    """

    def __init__(self, mass: Floats, repair_probability: Floats, fix_costs: Floats) -> None:
        efficiency_per_mass = repair_probability / fix_costs
        self._rows = np.arange(len(mass))[:, None]
        self._mass = np.hstack([mass, np.zeros((len(mass), 1))])
        self._efficiency = np.hstack([mass @ efficiency_per_mass, np.zeros((len(mass), 1))])
        self._total = mass.sum(axis=1)
        self._faults_of_fix, self._probability = _nonzero_lists(repair_probability.T)
        self._fixes_of_fault, self._efficiency_per_mass = _nonzero_lists(
            np.vstack([efficiency_per_mass, np.zeros((1, len(fix_costs)))])
        )

    def efficiency(self) -> Floats:
        """(B, A) efficiency p/C of each fix now, times the mass of the row."""
        return np.asarray(self._efficiency[:, :-1])

    def fail(self, fix: Ints) -> None:
        """The (B,) fixes, one of each row, have failed."""
        faults = self._faults_of_fix[fix]
        removed = self._mass[self._rows, faults] * self._probability[fix]
        self._mass[self._rows, faults] -= removed
        self._total = self._total - removed.sum(axis=1)
        for fault, mass in zip(faults.T, removed.T, strict=True):  # one at a time, for two faults may have a fix in common
            self._efficiency[self._rows, self._fixes_of_fault[fault]] -= mass[:, None] * self._efficiency_per_mass[fault]

    def total(self) -> Floats:
        """(B,) mass that remains in each row."""
        return np.asarray(self._total)


def _nonzero_lists(matrix: Floats) -> tuple[Ints, Floats]:
    """(N, most) columns of the nonzero numbers of each of N rows, and these numbers; filled up with the column after the last."""
    nonzero = matrix != 0
    count = nonzero.sum(axis=1)
    columns = np.full((len(matrix), int(count.max(initial=0))), matrix.shape[1], dtype=np.intp)
    numbers = np.zeros(columns.shape)
    row, column = np.nonzero(nonzero)
    place = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    columns[row, place], numbers[row, place] = column, matrix[row, column]
    return columns, numbers


GREEDY_STEPS = 10
"""Longest sequence of fixes that `greedy_cost` follows."""
EXACT_FIXES = 10
"""So many fixes are compared in all orders; the work grows as 2 to this power."""


@dataclass(frozen=True, slots=True)
class RepairPlan:
    """The best sequence of fixes before the last resort.

    `expected_cost_of_repair`: in money, the last resort included; `fixes`: their indexes in order; `need_probabilities`: for each
    the probability that it has to be done, because all before it failed.
    """

    expected_cost_of_repair: float
    fixes: tuple[int, ...]
    need_probabilities: tuple[float, ...]


def sequence_cost(
    order: Sequence[int], mass: Floats, repair_probability: Floats, fix_costs: Floats, last_resort_cost: float = 0.0
) -> float:
    """Expected cost of the fixes with these indexes in this order, then the last resort for the mass that remains."""
    remaining = mass.astype(float).copy()
    total = 0.0
    for fix in order:
        total += fix_costs[fix] * remaining.sum()
        remaining *= 1 - repair_probability[:, fix]
    return float(total + last_resort_cost * remaining.sum())


def greedy_cost(mass: Floats, repair_probability: Floats, fix_costs: Floats, last_resort_cost: float) -> Floats:
    """(B,) expected cost of repair of each row of (B, K) masses, greedy by efficiency, until the last resort costs less."""
    remaining = mass.sum(axis=1)
    total, best = np.zeros(len(mass)), last_resort_cost * remaining
    for fix, remaining_after in greedy_by_efficiency(mass, repair_probability, fix_costs, GREEDY_STEPS):
        total += fix_costs[fix] * remaining
        remaining = remaining_after
        np.minimum(best, total + last_resort_cost * remaining, out=best)
    return np.asarray(best)


def exact_cost(
    mass: Floats, repair_probability: Floats, fix_costs: Floats, last_resort_cost: float, exact: int = EXACT_FIXES
) -> Floats:
    """(B,) expected cost of repair by the best plan for each row of (B, K) masses; see `best_plan`."""
    return np.asarray(_solve(mass, repair_probability, fix_costs, last_resort_cost, exact)[2][:, 0])


def best_plan(
    mass: Floats, repair_probability: Floats, fix_costs: Floats, last_resort_cost: float, exact: int = EXACT_FIXES
) -> RepairPlan:
    """The cheapest sequence for (K,) masses among all orders of the `exact` most promising fixes.

    Dynamic programming over sets of fixes: the probability that the machine is still broken depends only on which fixes were
    done, not on their order.
    """
    solution = _solve(mass[None, :], repair_probability, fix_costs, last_resort_cost, exact)
    chosen, broken, values = (rows[0] for rows in solution)
    done, fixes, needed = 0, [], []
    while (place := _next_fix(done, broken, values, fix_costs[chosen], last_resort_cost)) is not None:
        fixes.append(int(chosen[place]))
        needed.append(float(broken[done] / broken[0]))
        done |= 1 << place
    return RepairPlan(float(values[0]), tuple(fixes), tuple(needed))


def _solve(
    mass: Floats, repair_probability: Floats, fix_costs: Floats, last_resort_cost: float, exact: int
) -> tuple[Ints, Floats, Floats]:
    """The dynamic programme over sets of n promising fixes, sets as bit masks, for each of B rows.

    Promising are the fixes that are greedy by efficiency one after the other, which spreads them over the faults.

    Returns:
        (B, n) the fixes; (B, 2**n) P(still broken after the set); (B, 2**n) expected cost from there, times that probability.
    """
    steps = [fix for fix, _ in greedy_by_efficiency(mass, repair_probability, fix_costs, exact)]
    chosen = np.array(steps, dtype=np.intp).reshape(len(steps), len(mass)).T
    broken = _still_broken(mass, 1 - repair_probability.T[chosen])
    values, costs = last_resort_cost * broken, fix_costs[chosen]
    for sets, not_done, sets_after in _sets_by_size(chosen.shape[1]):
        cost_of_next = costs[:, not_done] * broken[:, sets, None] + values[:, sets_after]
        values[:, sets] = np.minimum(values[:, sets], cost_of_next.min(axis=2))
    return chosen, broken, values


def _still_broken(mass: Floats, persistence: Floats) -> Floats:
    """(B, 2**n) probability of being still broken after each set of n fixes, the sets as bit masks.

    `persistence`: (B, n, K) P(the fault is present after the fix | it was present).
    """
    remaining = mass[:, None, :]
    for fix in range(persistence.shape[1]):
        remaining = np.concatenate([remaining, remaining * persistence[:, fix, None, :]], axis=1)
    return np.asarray(remaining.sum(axis=2), dtype=float)


@cache
def _sets_by_size(count: int) -> list[tuple[Ints, Ints, Ints]]:
    """For sizes count - 1 down to 0: (L,) the sets, (L, f) the fixes not in each, (L, f) the sets with each of these added."""
    by_size = []
    for size in range(count - 1, -1, -1):
        sets = np.array([s for s in range(1 << count) if s.bit_count() == size], dtype=np.intp)
        not_done = np.array([[a for a in range(count) if not s >> a & 1] for s in sets], dtype=np.intp)
        by_size.append((sets, not_done, sets[:, None] | (1 << not_done)))
    return by_size


def _next_fix(done: int, broken: Floats, values: Floats, costs: Floats, last_resort_cost: float) -> int | None:
    """Place of the fix to do next after this set of fixes, of equal ones the more promising; None: the last resort."""
    best, place = last_resort_cost * broken[done] - NEGLIGIBLE_GAIN, None
    for fix in range(len(costs)):
        if not done >> fix & 1:
            cost = costs[fix] * broken[done] + values[done | 1 << fix]
            if cost < best - NEGLIGIBLE_GAIN * (place is not None):
                best, place = cost, fix
    return place
