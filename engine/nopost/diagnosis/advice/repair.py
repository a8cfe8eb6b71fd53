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

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import combinations

import numpy as np

from nopost.diagnosis.advice.preparations import RepairCosts
from nopost.diagnosis.advice.promising_fixes import NEGLIGIBLE_GAIN, promising_fixes
from nopost.diagnosis.belief.hypotheses import Flags, Floats, Ints

EXACT_FIXES = 8
"""So many fixes are compared in all orders; the work grows as 2 to this power."""
FORBIDDEN = 1e12
"""Cost of what must not be done; finite, so that a probability of 0 makes it 0."""
LARGEST_BLOCK = 3
"""Most fixes that are done before one trial."""


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
    return FixSets(mass, repair_probability, costs, ready, exact).values(most)[:, 0]


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
    return FixSets(mass[None], repair_probability, costs, ready[None], exact).plan(most)


class FixSets:
    """The sets of n promising fixes, as bit masks, in each of B rows, and the dynamic programme over them.

    `chosen`: (B, n) the fixes; `broken`: (B, 2**n) P(still broken after the set); `resort`: (B, 2**n) expected cost of the last
    resort from there, times that probability.
    """

    def __init__(self, mass: Floats, repair_probability: Floats, costs: RepairCosts, ready: Floats, exact: int) -> None:
        steps = [step.fix for step in promising_fixes(mass, repair_probability, costs, ready, exact)]
        self.chosen = np.array(steps, dtype=np.intp).reshape(len(steps), len(mass)).T
        remaining = _remaining(mass, 1 - repair_probability.T[self.chosen])
        self.broken = remaining.sum(axis=2)
        self.resort = remaining @ costs.last_resort
        self._blocks = _BlockCosts(costs, self.chosen, ready)

    def values(self, most: int) -> Floats:
        """(B, 2**n) expected cost of the best plan with blocks of up to `most` after each set, times P(still broken then)."""
        values = self.resort.copy()
        for sets, blocks, after in _moves(self.chosen.shape[1], most):
            cost = self._blocks.of(sets, blocks) * self.broken[:, sets, None] + values[:, after]
            values[:, sets] = np.minimum(values[:, sets], cost.min(axis=2))
        return values

    def plan(self, most: int) -> RepairPlan:
        """The best plan of the first row: the blocks of up to `most`, and of equal ones the more promising."""
        chosen, broken, values = self.chosen[0], self.broken[0], self.values(most)[0]
        done, blocks, needed = 0, [], []
        while (block := self._next_block(done, most, values)) is not None:
            places = [k for k in range(len(chosen)) if block >> k & 1]
            blocks.append(tuple(int(chosen[k]) for k in places))
            needed += [float(broken[done] / broken[0])] * len(places)
            done |= block
        return RepairPlan(float(values[0]), tuple(blocks), tuple(needed))

    def _next_block(self, done: int, most: int, values: Floats) -> int | None:
        """The block to do next after this set of fixes, by the (2**n,) values of the first row; None: the last resort."""
        size = self.chosen.shape[1] - done.bit_count()
        if not size:
            return None
        sets, blocks, after = _moves(self.chosen.shape[1], most)[size - 1]
        row = int(np.flatnonzero(sets == done)[0])
        cost = self._blocks.of(sets, blocks)[0, row] * self.broken[0, done] + values[after[row]]
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
