"""Promising fixes: greedy by efficiency p/C, one after the other, for many beliefs at once; and what that costs.

Arguments throughout: see `nopost.diagnosis.advice.repair`. Source of the order by efficiency: Heckerman, Breese & Rommelse 1995,
CACM 38(3), pp. 49-57; of the shared price of a preparation, the compound items of cost clusters: Ottosen & Jensen 2010, UAI,
pp. 409-416.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from nopost.diagnosis.advice.preparations import RepairCosts
from nopost.diagnosis.belief.hypotheses import Floats, Ints

NEGLIGIBLE_GAIN = 1e-9
"""Efficiencies and savings up to this are rounding."""
LOOKUP_COST = 60
"""Looking up one number by its index takes about as long as this many multiplications in a product of matrices (measured)."""
GREEDY_STEPS = 8
"""Longest sequence of fixes that `greedy_cost` follows."""


class GreedyStep(NamedTuple):
    """One step of B greedy sequences, each (B,): the fix, its cost, what is still broken after it, and what the last resort
    then costs, times that probability."""

    fix: Ints
    cost: Floats
    broken: Floats
    resort: Floats


def greedy_cost(mass: Floats, repair_probability: Floats, costs: RepairCosts, ready: Floats) -> Floats:
    """(B,) expected cost of repair of each row of (B, K) masses, greedy by efficiency, until the last resort costs less."""
    broken, total, best = mass.sum(axis=1), np.zeros(len(mass)), mass @ costs.last_resort
    for step in promising_fixes(mass, repair_probability, costs, ready, GREEDY_STEPS):
        total += step.cost * broken
        broken = step.broken
        best = np.minimum(best, total + step.resort)
    return np.asarray(best)


def promising_fixes(
    mass: Floats, repair_probability: Floats, costs: RepairCosts, ready: Floats, count: int
) -> Iterator[GreedyStep]:
    """In each row of (B, K) masses the fix of greatest efficiency p/C, computed again after each failure, `count` times at most.

    A preparation that is not made counts with the share that the fix has in all that would be mended there. Ends when no fix has
    any efficiency.
    """
    rows = np.arange(len(mass))
    remaining_class = _SparseRemaining if _is_sparse(repair_probability) else _DenseRemaining
    remaining = remaining_class(mass, repair_probability, costs.last_resort)
    unused = np.ones((len(mass), len(costs.fixes)))
    shared = _SharedCosts(costs)
    for step in range(min(count, len(costs.fixes))):
        success = remaining.success() * unused
        efficiency = np.where(unused > 0, success / shared.of(success, ready, first=not step), -1.0)
        fix = efficiency.argmax(axis=1)
        if efficiency[rows, fix].max(initial=0.0) <= NEGLIGIBLE_GAIN:
            return
        remaining.fail(fix)
        unused[rows, fix] = 0.0
        place = costs.places[fix]
        cost = costs.fixes[fix] + costs.trial + costs.preparations.missing_cost(place, ready)
        ready = costs.preparations.once_tried(np.maximum(ready, place))
        yield GreedyStep(fix, cost, remaining.broken(), remaining.resort())


class _SharedCosts:
    """Cost of each fix in each row, of a preparation that stays and is not made the share of the fix in all that would be mended
    there. What does not stay is made at most for the first fix of a sequence."""

    def __init__(self, costs: RepairCosts) -> None:
        stays, prices = costs.preparations.stays, costs.preparations.costs
        self._costs = costs
        self._own = costs.fixes + costs.trial
        self._undone = costs.places[:, ~stays] @ prices[~stays]
        self._kept = [(k, costs.places[:, k], float(prices[k])) for k in np.flatnonzero(stays)]

    def of(self, success: Floats, ready: Floats, *, first: bool) -> Floats:
        """(B, A) costs, from (B, A) mass that each fix would remove and (B, P) what is ready."""
        stays = self._costs.preparations.stays
        if first and ready.any():
            missing = (1 - ready[:, ~stays]) * self._costs.preparations.costs[~stays]
            cost = self._own + missing @ self._costs.places[:, ~stays].T
        else:
            cost = np.broadcast_to(self._own + self._undone, success.shape)
        for k, place, price in self._kept:
            there = success @ place
            share = (1 - ready[:, k]) * price / np.maximum(there, NEGLIGIBLE_GAIN)
            cost = cost + success * (share[:, None] * place)
        return cost


def _is_sparse(repair_probability: Floats) -> bool:
    """Whether so few fixes help so few faults that following each is quicker than multiplying the whole matrix."""
    helps = repair_probability != 0
    most = helps.sum(axis=0).max(initial=0) * helps.sum(axis=1).max(initial=0)
    return bool(most * LOOKUP_COST < repair_probability.size)


class _DenseRemaining:
    """The (B, K) masses that remain after failed fixes, by products of whole matrices."""

    def __init__(self, mass: Floats, repair_probability: Floats, last_resort: Floats) -> None:
        self._mass, self._repair_probability, self._last_resort = mass, repair_probability, last_resort
        self._persistence = 1 - repair_probability.T

    def success(self) -> Floats:
        """(B, A) mass that each fix would remove now."""
        return np.asarray(self._mass @ self._repair_probability)

    def fail(self, fix: Ints) -> None:
        """The (B,) fixes, one of each row, have failed."""
        self._mass = self._mass * self._persistence[fix]

    def broken(self) -> Floats:
        """(B,) mass that remains in each row."""
        return np.asarray(self._mass.sum(axis=1))

    def resort(self) -> Floats:
        """(B,) what the last resort costs for what remains, times its probability."""
        return np.asarray(self._mass @ self._last_resort)


class _SparseRemaining:
    """The same, updating only what a fix affects: the faults that it removes, and the other fixes that remove these.

    One more column stands for no fault, and one for no fix; short lists of indexes are filled up with it.
    """

    def __init__(self, mass: Floats, repair_probability: Floats, last_resort: Floats) -> None:
        self._rows = np.arange(len(mass))[:, None]
        self._mass = np.hstack([mass, np.zeros((len(mass), 1))])
        self._success = np.hstack([mass @ repair_probability, np.zeros((len(mass), 1))])
        self._broken, self._resort = mass.sum(axis=1), mass @ last_resort
        self._last_resort = np.append(last_resort, 0.0)
        self._faults_of_fix, self._probability = _nonzero_lists(repair_probability.T)
        self._fixes_of_fault, self._by_fault = _nonzero_lists(
            np.vstack([repair_probability, np.zeros((1, repair_probability.shape[1]))])
        )

    def success(self) -> Floats:
        """(B, A) mass that each fix would remove now."""
        return np.asarray(self._success[:, :-1])

    def fail(self, fix: Ints) -> None:
        """The (B,) fixes, one of each row, have failed."""
        faults = self._faults_of_fix[fix]
        removed = self._mass[self._rows, faults] * self._probability[fix]
        self._mass[self._rows, faults] -= removed
        self._broken = self._broken - removed.sum(axis=1)
        self._resort = self._resort - (removed * self._last_resort[faults]).sum(axis=1)
        for fault, mass in zip(faults.T, removed.T, strict=True):  # one at a time, for two faults may have a fix in common
            self._success[self._rows, self._fixes_of_fault[fault]] -= mass[:, None] * self._by_fault[fault]

    def broken(self) -> Floats:
        """(B,) mass that remains in each row."""
        return np.asarray(self._broken)

    def resort(self) -> Floats:
        """(B,) what the last resort costs for what remains, times its probability."""
        return np.asarray(self._resort)


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
