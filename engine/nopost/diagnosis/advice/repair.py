"""Expected cost of repair: fixes, some of them before one trial of the machine, until it starts; or the last resort.

Arguments throughout: `mass`: (K,) or (B, K) probabilities of K faults, the last of which no fix may remove;
`repair_probability`: (K, A) P(fix removes fault) for A fixes; `costs`: what fixes, trials, preparations and the last resort
cost, in money; `ready`: (P,) or (B, P) which preparations are made now. Masses need not sum to 1: every expected cost scales with
their sum.

Sources: order by efficiency p/C and stopping at the last resort: Heckerman, Breese & Rommelse 1995, CACM 38(3), pp. 49-57.
Dependent fixes break that order, so whole sequences are compared: Jensen et al. 2001, AI EDAM 15, pp. 321-333. Preparations are
cost clusters, and several fixes before one trial a postponed system test: Ottosen & Jensen 2010 (UAI, pp. 409-416; TR 10-001).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import combinations
from typing import NamedTuple, Self

import numpy as np

from nopost.diagnosis.advice.preparations import Preparations
from nopost.diagnosis.belief.hypotheses import Flags, Floats, Ints

NEGLIGIBLE_GAIN = 1e-9
"""Efficiencies and savings up to this are rounding."""
LOOKUP_COST = 60
"""Looking up one number by its index takes about as long as this many multiplications in a product of matrices (measured)."""
EXACT_FIXES = 8
"""So many fixes are compared in all orders; the work grows as 2 to this power."""
GREEDY_STEPS = 8
"""Longest sequence of fixes that `greedy_cost` follows."""
FORBIDDEN = 1e12
"""Cost of what must not be done; finite, so that a probability of 0 makes it 0."""
LARGEST_BLOCK = 3
"""Most fixes that are done before one trial."""


@dataclass(frozen=True)
class RepairCosts:
    """What A fixes cost over K faults and P preparations, in money.

    `fixes`: (A,) each by itself, above 0; `last_resort`: (K,) the last resort by what the fault turns out to be; `places`: (A, P)
    1.0 where a fix needs a preparation; `trial`: trying the machine after one or several fixes; `exchange`: reading one screen of
    questions and answering it; `postponable`: (A,) whether the trial after a fix may wait for another fix.
    """

    fixes: Floats
    last_resort: Floats
    places: Floats
    preparations: Preparations
    trial: float = 0.0
    exchange: float = 0.0
    postponable: Flags | None = None

    @classmethod
    def plain(cls, fixes: Floats, last_resort: float, faults: int) -> Self:
        """Costs without preparations; each fix holds its trial, and the last resort costs the same whatever it is."""
        return cls(fixes, np.full(faults, last_resort), np.zeros((len(fixes), 0)), Preparations.none())

    def without(self, block: Sequence[int]) -> RepairCosts:
        """The costs of the other fixes."""
        postponable = None if self.postponable is None else np.delete(self.postponable, block)
        places = np.delete(self.places, block, axis=0)
        return replace(self, fixes=np.delete(self.fixes, block), places=places, postponable=postponable)

    def of_block(self, block: Sequence[int], ready: Floats) -> float:
        """Cost of doing these fixes next and trying the machine once, from (P,) what is ready."""
        own = self.fixes[list(block)].sum() + self.trial
        return float(own + self.preparations.missing_cost(self.place_of(block), ready))

    def place_of(self, block: Sequence[int]) -> Floats:
        """(P,) preparations that any of these fixes needs."""
        return np.asarray(self.places[list(block)].max(axis=0, initial=0.0))

    def alone(self, ready: Floats) -> Floats:
        """(…, A) cost of each fix when it is done next and tried, from (…, P) what is ready."""
        missing = (1 - ready) * self.preparations.costs
        return np.asarray(self.fixes + self.trial + missing @ self.places.T)


@dataclass(frozen=True, slots=True)
class RepairPlan:
    """The best sequence of fixes before the last resort.

    `expected_cost_of_repair`: in money, the last resort included; `blocks`: indexes of the fixes in order, those of one block
    before one trial; `need_probabilities`: for each fix the probability that it has to be done, because all blocks before failed.
    """

    expected_cost_of_repair: float
    blocks: tuple[tuple[int, ...], ...]
    need_probabilities: tuple[float, ...]
    fixes: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "fixes", tuple(fix for block in self.blocks for fix in block))


def sequence_cost(
    blocks: Sequence[Sequence[int]], mass: Floats, repair_probability: Floats, costs: RepairCosts, ready: Floats | None = None
) -> float:
    """Expected cost of these blocks of fixes, a trial after each, then the last resort for the mass that remains."""
    remaining, total = mass.astype(float).copy(), 0.0
    ready = np.zeros(costs.places.shape[1]) if ready is None else ready
    for block in blocks:
        total += costs.of_block(block, ready) * float(remaining.sum())
        remaining *= np.prod(1 - repair_probability[:, list(block)], axis=1)
        ready = costs.preparations.once_tried(np.maximum(ready, costs.place_of(block)))
    return float(total + costs.last_resort @ remaining)


def exact_cost(
    mass: Floats,
    repair_probability: Floats,
    costs: RepairCosts,
    ready: Floats,
    exact: int = EXACT_FIXES,
    most: int = LARGEST_BLOCK,
) -> Floats:
    """(B,) expected cost of repair by the best plan for each row of (B, K) masses, with (B, P) ready; see `best_plan`."""
    return _Programme(mass, repair_probability, costs, ready, exact, most).values[:, 0]


def best_plan(
    mass: Floats,
    repair_probability: Floats,
    costs: RepairCosts,
    ready: Floats | None = None,
    exact: int = EXACT_FIXES,
    most: int = LARGEST_BLOCK,
) -> RepairPlan:
    """The cheapest sequence of blocks of up to `most` for (K,) masses among all orders of the `exact` most promising fixes.

    Dynamic programming over sets of fixes: the probability that the machine is still broken depends only on which fixes were
    done, not on their order, and so do the preparations that stay.
    """
    ready = np.zeros(costs.places.shape[1]) if ready is None else ready
    return _Programme(mass[None], repair_probability, costs, ready[None], exact, most).plan()


class _Programme:
    """The dynamic programme over sets of n promising fixes, sets as bit masks, for each of B rows.

    `chosen`: (B, n) the fixes; `broken`: (B, 2**n) P(still broken after the set); `resort`, `values`: (B, 2**n) expected cost of
    the last resort, and of the best plan, from there, times that probability.
    """

    def __init__(
        self, mass: Floats, repair_probability: Floats, costs: RepairCosts, ready: Floats, exact: int, most: int
    ) -> None:
        steps = [step.fix for step in promising_fixes(mass, repair_probability, costs, ready, exact)]
        self.chosen = np.array(steps, dtype=np.intp).reshape(len(steps), len(mass)).T
        remaining = _remaining(mass, 1 - repair_probability.T[self.chosen])
        self.broken = remaining.sum(axis=2)
        self.resort = remaining @ costs.last_resort
        self.values = self.resort.copy()
        self._blocks = _BlockCosts(costs, self.chosen, ready)
        for sets, blocks, after in _moves(len(steps), most):
            cost = self._blocks.of(sets, blocks) * self.broken[:, sets, None] + self.values[:, after]
            self.values[:, sets] = np.minimum(self.values[:, sets], cost.min(axis=2))
        self._most = most

    def plan(self) -> RepairPlan:
        """The best plan of the first row: the blocks, and of equal ones the more promising."""
        chosen, broken, values = self.chosen[0], self.broken[0], self.values[0]
        done, blocks, needed = 0, [], []
        while (block := self._next_block(done)) is not None:
            places = [k for k in range(len(chosen)) if block >> k & 1]
            blocks.append(tuple(int(chosen[k]) for k in places))
            needed += [float(broken[done] / broken[0])] * len(places)
            done |= block
        return RepairPlan(float(values[0]), tuple(blocks), tuple(needed))

    def _next_block(self, done: int) -> int | None:
        """The block to do next after this set of fixes; None: the last resort."""
        size = self.chosen.shape[1] - done.bit_count()
        if not size:
            return None
        sets, blocks, after = _moves(self.chosen.shape[1], self._most)[size - 1]
        row = int(np.flatnonzero(sets == done)[0])
        cost = self._blocks.of(sets, blocks)[0, row] * self.broken[0, done] + self.values[0, after[row]]
        if cost.min() >= self.resort[0, done] - NEGLIGIBLE_GAIN:
            return None
        return int(blocks[row, int(np.argmax(cost <= cost.min() + NEGLIGIBLE_GAIN))])


class _BlockCosts:
    """Cost of doing a block of fixes and trying the machine, after a set of fixes; blocks and sets as bit masks of n fixes.

    What preparations cost depends on the set only by those that stay.
    """

    def __init__(self, costs: RepairCosts, chosen: Ints, ready: Floats) -> None:
        preparations, stays = costs.preparations, costs.preparations.stays
        own, touched = _sums(costs.fixes[chosen]), _unions(costs.places[chosen])
        if costs.postponable is not None:
            own = own + FORBIDDEN * _cannot_wait(costs.postponable[chosen])
        undone = touched[:, :, ~stays]
        self._later = own + costs.trial + undone @ preparations.costs[~stays]
        missing = 1 - ready[:, None, ~stays]
        self._first = own + costs.trial + (undone * missing) @ preparations.costs[~stays]
        self._needs = touched[:, :, stays] * preparations.costs[stays]
        self._made = np.maximum(touched[:, :, stays], ready[:, None, stays])

    def of(self, sets: Ints, blocks: Ints) -> Floats:
        """(B, L, f) cost of (L, f) blocks after (L,) sets."""
        by_block = self._first if len(sets) == 1 and not sets[0] else self._later
        cost = by_block[:, blocks]
        for k in range(self._needs.shape[2]):
            cost = cost + self._needs[:, blocks, k] * (1 - self._made[:, sets, k])[:, :, None]
        return np.asarray(cost)


def _cannot_wait(postponable: Flags) -> Flags:
    """(B, 2**n) whether a set holds several fixes of which one must be tried by itself, from (B, n)."""
    several = np.array([s.bit_count() > 1 for s in range(1 << postponable.shape[1])])
    return np.asarray((_sums((~postponable).astype(float)) > 0) & several)


def _sums(values: Floats) -> Floats:
    """(B, 2**n) sum over each set, from (B, n)."""
    result = np.zeros((len(values), 1))
    for column in values.T:
        result = np.concatenate([result, result + column[:, None]], axis=1)
    return result


def _unions(values: Floats) -> Floats:
    """(B, 2**n, P) largest over each set, from (B, n, P)."""
    result = np.zeros((values.shape[0], 1, values.shape[2]))
    for k in range(values.shape[1]):
        result = np.concatenate([result, np.maximum(result, values[:, None, k])], axis=1)
    return result


def _remaining(mass: Floats, persistence: Floats) -> Floats:
    """(B, 2**n, K) masses that remain after each set of n fixes, the sets as bit masks.

    `persistence`: (B, n, K) P(the fault is present after the fix | it was present).
    """
    remaining = mass[:, None, :]
    for fix in range(persistence.shape[1]):
        remaining = np.concatenate([remaining, remaining * persistence[:, fix, None, :]], axis=1)
    return np.asarray(remaining, dtype=float)


@cache
def _moves(count: int, most: int) -> list[tuple[Ints, Ints, Ints]]:
    """For sizes count - 1 down to 0: (L,) the sets, (L, f) the blocks of up to `most` other fixes, (L, f) the sets after each."""
    by_size = []
    for size in range(count - 1, -1, -1):
        sets = [s for s in range(1 << count) if s.bit_count() == size]
        blocks = []
        for done in sets:
            free = [1 << k for k in range(count) if not done >> k & 1]
            blocks.append([sum(block) for n in range(1, most + 1) for block in combinations(free, n)])
        done_sets, block_sets = np.array(sets, dtype=np.intp), np.array(blocks, dtype=np.intp)
        by_size.append((done_sets, block_sets, done_sets[:, None] | block_sets))
    return by_size


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
        efficiency = success / shared.of(success, ready, first=not step)
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
