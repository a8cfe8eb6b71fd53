"""Rounds: several looks made in one go where the machine stands, told on one screen.

A look is worth more when others go with it: a side panel is taken off once, one screen is read once, and two half signs may
together decide what none of them decides alone. A round is built from its first look by adding the look that lowers the
expected total cost most (greedy forward selection), as long as it lowers it. Answers of one round count as independent given the
fault, of which a pair of faults is half each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.advice.value_of_information import (
    AnswerBranches,
    Question,
    RepairProblem,
    asking_costs,
    ready_after,
)
from nopost.diagnosis.belief.hypotheses import Floats

MOST_LOOKS = 3
"""Looks in one round at most (judgement: more are skipped or mixed up)."""
CANDIDATES = 4
"""So many of the best looks are tried as the next of a round."""
LEAST_GAIN = 0.04
"""A look joins a round when it lowers the expected total cost by this share at least (judgement)."""
NEGLIGIBLE_BRANCH = 1e-2
"""Branches less probable than this are taken together as one, in which nothing more is asked."""


@dataclass(frozen=True)
class Round:
    """Looks in order, by name; `cost` of making them, `expected_total_cost` when they come next, both in money."""

    names: tuple[str, ...]
    cost: float
    expected_total_cost: float


def best_round(branches: AnswerBranches, best_first: Sequence[str]) -> Round | None:
    """The round of two looks or more that begins with the best single look; None when one look is enough.

    `branches`: of all questions; `best_first`: names of the questions by what each is worth alone.
    """
    in_round = {q.name for q in branches.questions if q.in_round}
    order = [name for name in best_first if name in in_round]
    if not order:
        return None
    problem, first = branches.problem.by_fault(), branches.question_by_fault(order[0])
    if float(asking_costs(problem, [first])[0]) <= first.cost:
        return None
    ready = ready_after(problem, [first])[0]
    can_join = {q.name for q in branches.questions if q.powered == first.powered and not (q.place > ready).any()}
    others = [branches.question_by_fault(name) for name in order[1:] if name in can_join][:CANDIDATES]
    return _grown(problem, first, others, ready)


def _grown(problem: RepairProblem, first: Question, others: list[Question], ready: Floats) -> Round | None:
    """The round that begins with this look; None when no second look pays.

    `others`: looks that may join it; `ready`: (P,) preparations made after the first look.
    """
    cost = float(asking_costs(problem, [first])[0])
    chosen, branches = [first], _likely(problem, first.table.T)
    total = cost + float(problem.greedy_costs(problem.fault_masses(branches), ready).sum())
    while others and len(chosen) < MOST_LOOKS:
        sizes = [len(branches) * q.table.shape[1] for q in others]
        joint = np.concatenate([(branches[:, None] * q.table.T).reshape(-1, branches.shape[1]) for q in others])
        repair = problem.greedy_costs(problem.fault_masses(joint), ready)
        totals = np.add.reduceat(repair, np.cumsum([0, *sizes[:-1]])) + cost + [q.cost for q in others]
        best = int(totals.argmin())
        if totals[best] >= total * (1 - LEAST_GAIN):
            break
        total = float(totals[best])
        look = others.pop(best)
        chosen.append(look)
        cost += look.cost
        start = sum(sizes[:best])
        branches = _likely(problem, joint[start : start + sizes[best]])
    if len(chosen) == 1:
        return None
    repaired = float(problem.exact_costs(problem.fault_masses(branches), ready).sum())
    return Round(tuple(q.name for q in chosen), cost, cost + repaired)


def _likely(problem: RepairProblem, branches: Floats) -> Floats:
    """(R, H) P(answers | case) of the branches that are not negligible; the others summed up as one."""
    probability = branches @ problem.belief
    rare = probability < NEGLIGIBLE_BRANCH
    return np.vstack([branches[~rare], branches[rare].sum(axis=0)]) if rare.any() else branches
