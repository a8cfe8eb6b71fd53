"""Repair problems as the literature has them: no preparations, a trial after each fix within its cost, one price for the shop.

The same functions as the engine's, by plain numbers: `fix_costs`: (A,); `last_resort_cost`: whatever the fault is.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from nopost.diagnosis.advice import promising_fixes, repair
from nopost.diagnosis.advice.preparations import RepairCosts
from nopost.diagnosis.advice.repair import EXACT_FIXES, RepairPlan
from nopost.diagnosis.advice.value_of_information import RepairProblem
from nopost.diagnosis.belief.hypotheses import Floats


def sequence_cost(
    order: Sequence[int], mass: Floats, repair_probability: Floats, fix_costs: Floats, last_resort_cost: float = 0.0
) -> float:
    """Expected cost of fixes in this order, a trial after each."""
    costs = RepairCosts.plain(fix_costs, last_resort_cost, len(mass))
    return repair.sequence_cost([[fix] for fix in order], mass, repair_probability, costs)


def best_plan(
    mass: Floats, repair_probability: Floats, fix_costs: Floats, last_resort_cost: float, exact: int = EXACT_FIXES
) -> RepairPlan:
    """The engine's best plan."""
    return repair.best_plan(mass, repair_probability, RepairCosts.plain(fix_costs, last_resort_cost, len(mass)), exact=exact)


def greedy_cost(mass: Floats, repair_probability: Floats, fix_costs: Floats, last_resort_cost: float) -> Floats:
    """(B,) the engine's greedy cost of (B, K) masses."""
    costs = RepairCosts.plain(fix_costs, last_resort_cost, mass.shape[1])
    return promising_fixes.greedy_cost(mass, repair_probability, costs, np.zeros((len(mass), 0)))


def exact_cost(mass: Floats, repair_probability: Floats, fix_costs: Floats, last_resort_cost: float) -> Floats:
    """(B,) the engine's exact cost of (B, K) masses."""
    costs = RepairCosts.plain(fix_costs, last_resort_cost, mass.shape[1])
    return repair.exact_cost(mass, repair_probability, costs, np.zeros((len(mass), 0)))


def repair_problem(
    belief: Floats, fault_shares: Floats, repair_probability: Floats, fix_costs: Floats, last_resort_cost: float
) -> RepairProblem:
    """The engine's problem."""
    costs = RepairCosts.plain(fix_costs, last_resort_cost, len(repair_probability))
    return RepairProblem(belief, fault_shares, repair_probability, costs)
