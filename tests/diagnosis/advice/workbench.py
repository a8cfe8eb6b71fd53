"""The exact optimum of small problems with preparations, rounds of looks and fixes before one trial, written on its own.

One fault at a time, or none of those that are known. A state is the answers told, the fixes that failed and the preparations
made. It shares no code with the engine; `engine_policy` plays the engine's own choice in the same states.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.advice.preparations import Preparations, RepairCosts
from nopost.diagnosis.advice.rounds import best_round
from nopost.diagnosis.advice.value_of_information import AnswerBranches, Question, RepairProblem

Step = tuple[str, tuple[int, ...]]
"""("look", questions), ("fix", fixes) or ("resort", ())."""
RESORT: Step = ("resort", ())


@dataclass(frozen=True)
class Workbench:
    """A machine on the bench. `prior`: of each fault, the last of which no fix removes; `tables`: question -> fault -> answer ->
    probability; `chances`: fix -> fault -> probability; `look_places`, `fix_places`: preparations that each needs; `opening`:
    cost of each preparation; `stays`: whether it stays while the machine is tried; `resort`: by fault."""

    prior: Sequence[float]
    tables: Sequence[Sequence[Sequence[float]]]
    look_costs: Sequence[float]
    look_places: Sequence[frozenset[int]]
    chances: Sequence[Sequence[float]]
    fix_costs: Sequence[float]
    fix_places: Sequence[frozenset[int]]
    opening: Sequence[float]
    stays: Sequence[bool]
    trial: float
    exchange: float
    resort: Sequence[float]


@dataclass(frozen=True)
class BenchState:
    """`told`: (question, answer), `failed`: fixes, `ready`: preparations made."""

    told: frozenset[tuple[int, int]] = frozenset()
    failed: frozenset[int] = frozenset()
    ready: frozenset[int] = frozenset()


def belief(bench: Workbench, state: BenchState) -> list[float]:
    """P(fault, answers, failures) for each fault."""
    result = []
    for fault, p in enumerate(bench.prior):
        for question, answer in state.told:
            p *= bench.tables[question][fault][answer]
        for fix in state.failed:
            p *= 1 - bench.chances[fix][fault]
        result.append(p)
    return result


def steps(bench: Workbench, state: BenchState, most_looks: int = 2, most_fixes: int = 2) -> list[Step]:
    """All steps that are possible."""
    asked = {question for question, _ in state.told}
    open_questions = [q for q in range(len(bench.tables)) if q not in asked]
    open_fixes = [f for f in range(len(bench.chances)) if f not in state.failed]
    looks = [("look", c) for n in range(1, most_looks + 1) for c in itertools.combinations(open_questions, n)]
    fixes = [("fix", c) for n in range(1, most_fixes + 1) for c in itertools.combinations(open_fixes, n)]
    return [RESORT, *looks, *fixes]


def cost_of(bench: Workbench, state: BenchState, step: Step, follow: Callable[[BenchState], float]) -> float:
    """Expected cost of a step and all that follows, times the probability of the state."""
    kind, items = step
    mass = belief(bench, state)
    if kind == "resort":
        return sum(p * cost for p, cost in zip(mass, bench.resort, strict=True))
    places = bench.look_places if kind == "look" else bench.fix_places
    needed = frozenset().union(*(places[k] for k in items))
    paid = sum(bench.opening[k] for k in needed - state.ready)
    ready = state.ready | needed
    if kind == "look":
        paid += bench.exchange + sum(bench.look_costs[q] for q in items)
        answers = itertools.product(*(range(len(bench.tables[q][0])) for q in items))
        after = [BenchState(state.told | set(zip(items, each, strict=True)), state.failed, ready) for each in answers]
        return paid * sum(mass) + sum(follow(s) for s in after)
    paid += bench.trial + sum(bench.fix_costs[f] for f in items)
    kept = frozenset(k for k in ready if bench.stays[k])
    return paid * sum(mass) + follow(BenchState(state.told, state.failed | set(items), kept))


def optimal_cost(bench: Workbench, *, one_by_one: bool = False) -> float:
    """Least expected cost over all strategies; `one_by_one`: over those with single looks and a trial after each fix."""
    most = 1 if one_by_one else 2
    known: dict[BenchState, float] = {}

    def value(state: BenchState) -> float:
        if state not in known:
            known[state] = min(cost_of(bench, state, step, value) for step in steps(bench, state, most, most))
        return known[state]

    return value(BenchState())


def cost_of_policy(bench: Workbench, policy: Callable[[BenchState], Step]) -> float:
    """Exact expected cost of a policy."""

    def value(state: BenchState) -> float:
        return cost_of(bench, state, policy(state), value) if sum(belief(bench, state)) > 1e-15 else 0.0

    return value(BenchState())


def engine_policy(bench: Workbench) -> Callable[[BenchState], Step]:
    """Chooses as the adviser does, without its margins for people."""
    count = len(bench.opening)
    preparations = Preparations(np.array(bench.opening), np.array(bench.stays))

    def place(needed: frozenset[int]) -> np.ndarray:
        return np.array([1.0 if k in needed else 0.0 for k in range(count)])

    def choose(state: BenchState) -> Step:
        mass = np.array(belief(bench, state))
        fixes = [f for f in range(len(bench.chances)) if f not in state.failed]
        costs = RepairCosts(
            np.array([bench.fix_costs[f] for f in fixes]),
            np.array(bench.resort),
            np.array([place(bench.fix_places[f]) for f in fixes]).reshape(len(fixes), count),
            preparations,
            bench.trial,
            bench.exchange,
        )
        chance = np.array([bench.chances[f] for f in fixes]).T.reshape(len(mass), len(fixes))
        problem = RepairProblem(mass / mass.sum(), np.ones(len(mass)), chance, costs, place(state.ready))
        asked = {question for question, _ in state.told}
        questions = [
            Question(str(q), bench.look_costs[q], np.array(bench.tables[q]), place(bench.look_places[q]), in_round=True)
            for q in range(len(bench.tables))
            if q not in asked
        ]
        plan, branches = problem.best_plan(postpone_margin=0.0), AnswerBranches.of(problem, questions)
        values = branches.question_values()
        total = values[0].expected_total_cost if values else math.inf
        names: tuple[str, ...] = (values[0].name,) if values else ()
        together = best_round(branches, [value.name for value in values])
        if together is not None and together.expected_total_cost < total:
            total, names = together.expected_total_cost, together.names
        pays = total < plan.expected_cost_of_repair
        if pays and (not plan.blocks or total < branches.cost_of_repair_first(plan.blocks[0])):
            return "look", tuple(map(int, names))
        return ("fix", tuple(fixes[k] for k in plan.blocks[0])) if plan.blocks else RESORT

    return choose


def random_workbench(seed: int) -> Workbench:
    """2-4 faults and an unlisted one, 2-4 fixes, 1-3 looks, an opening that stays and one that does not, trials and screens."""
    dice = random.Random(f"workbench {seed}")
    faults, fixes, looks = dice.randint(2, 4), dice.randint(2, 4), dice.randint(1, 3)
    weights = [*(dice.uniform(0.1, 1.0) for _ in range(faults)), 0.05]
    places = [frozenset[int](), frozenset({0}), frozenset({0, 1})]
    tables = []
    for _ in range(looks):
        common = dice.uniform(0.05, 0.95)
        rows = [p if dice.random() < 0.6 else common for p in (dice.uniform(0.02, 0.98) for _ in range(faults + 1))]
        tables.append([[p, 1 - p] for p in rows])
    chances = []
    for fix in range(fixes):
        row = [dice.uniform(0.1, 0.9) if dice.random() < 0.2 else 0.0 for _ in range(faults)]
        row[fix % faults] = dice.uniform(0.6, 1.0)
        chances.append([*row, 0.0])
    labour = dice.uniform(60.0, 150.0)
    return Workbench(
        prior=[w / sum(weights) for w in weights],
        tables=tables,
        look_costs=[dice.uniform(0.1, 3.0) for _ in range(looks)],
        look_places=[dice.choice(places) for _ in range(looks)],
        chances=chances,
        fix_costs=[dice.choice((dice.uniform(0.5, 6.0), dice.uniform(6.0, 60.0))) for _ in range(fixes)],
        fix_places=[dice.choice(places) for _ in range(fixes)],
        opening=[dice.uniform(0.5, 4.0), dice.uniform(2.0, 12.0)],
        stays=[True, False],
        trial=dice.uniform(0.2, 3.0),
        exchange=dice.uniform(0.1, 0.6),
        resort=[labour + dice.uniform(0.0, 80.0) for _ in range(faults + 1)],
    )
