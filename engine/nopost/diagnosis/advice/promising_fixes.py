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
"""Longest sequence of fixes that `greedy_cost` follows when nothing else is said."""


class GreedyStep(NamedTuple):
    """One step of B greedy sequences, each (B,): the fix, its cost, what is still broken after it, and what the last resort
    then costs, times that probability."""

    fix: Ints
    cost: Floats
    broken: Floats
    resort: Floats


def greedy_cost(mass: Floats, repair_probability: Floats, costs: RepairCosts, ready: Floats, count: int = GREEDY_STEPS) -> Floats:
    """(B,) expected cost of repair of each row of (B, K) masses, greedy by efficiency, until the last resort costs less.

    `count`: so many fixes are followed.
    """
    broken, total, best = mass.sum(axis=1), np.zeros(len(mass)), mass @ costs.last_resort
    for step in promising_fixes(mass, repair_probability, costs, ready, count):
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
    prices = _Prices(costs, ready, len(mass))
    for _ in range(min(count, len(costs.fixes))):
        efficiency = prices.efficiency(remaining.success())
        fix = efficiency.argmax(axis=1)
        if efficiency[rows, fix].max(initial=0.0) <= NEGLIGIBLE_GAIN:
            return
        remaining.fail(fix)
        yield GreedyStep(fix, prices.pay(fix), remaining.broken(), remaining.resort())


class _Prices:
    """What the fixes that are left cost in each of B sequences.

    A preparation that stays is paid once; what does not stay is ready at most for the first fix of a sequence.
    """

    def __init__(self, costs: RepairCosts, ready: Floats, count: int) -> None:
        stays, prices = costs.preparations.stays, costs.preparations.costs
        self._rows, self._left = np.arange(count), np.ones((count, len(costs.fixes)))
        passing = costs.places[:, ~stays] * prices[~stays]
        self._later = costs.fixes + costs.trial + passing.sum(axis=1)
        spared = ready[:, ~stays]
        self._now = self._later - spared @ passing.T if spared.any() else np.broadcast_to(self._later, self._left.shape)
        kept = [(costs.places[:, k], (1 - ready[:, k]) * prices[k]) for k in np.flatnonzero(stays)]
        self._unpaid = [(place, price) for place, price in kept if price.any()]

    def efficiency(self, success: Floats) -> Floats:
        """(B, A) probability of success for the money, from (B, A) mass that each fix would remove; -1 for fixes done.

        Of a preparation that stays and is not made a fix bears the share that it has in all that would be mended there.
        """
        cost = self._now
        if self._unpaid:
            success = success * self._left
        for place, price in self._unpaid:
            share = price / np.maximum(success @ place, NEGLIGIBLE_GAIN)
            cost = cost + success * (share[:, None] * place)
        return np.asarray(np.where(self._left, success / cost, -1.0))

    def pay(self, fix: Ints) -> Floats:
        """(B,) cost of the (B,) fixes, one of each row, which are done then."""
        cost = self._now[self._rows, fix]
        for place, price in self._unpaid:
            due = price * place[fix]
            cost = cost + due
            price -= due
        self._left[self._rows, fix] = 0.0
        self._now = np.broadcast_to(self._later, self._left.shape)
        return np.asarray(cost)


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
