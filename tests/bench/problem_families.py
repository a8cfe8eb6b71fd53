"""Families of small repair problems that can be solved exactly; the name of a family says what is made harder in it."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from diagnosis.advice.optimum import TroubleshootingProblem
from diagnosis.advice.random_problems import informative_knowledge, informative_problem, random_knowledge, random_problem
from nopost.knowledge.model import Knowledge

MISREPORT = 0.15


def with_dependent_fixes(seed: int) -> TroubleshootingProblem:
    """Every fix may remove most causes, so that the order by efficiency p/C is no longer optimal."""
    problem, dice = random_problem(seed), random.Random(f"dependent {seed}")
    causes = {c for world in problem.prior for c in world}
    chance = [
        {c: own.get(c, dice.uniform(0.2, 0.9) if dice.random() < 0.75 else 0.0) for c in causes}
        for own in problem.repair_probability
    ]
    return replace(problem, repair_probability=chance)


def with_dear_questions(seed: int) -> TroubleshootingProblem:
    """A question costs up to as much as a fix."""
    dice = random.Random(f"dear {seed}")
    problem = random_problem(seed)
    return replace(problem, question_costs=[dice.uniform(2.0, 40.0) for _ in problem.question_costs])


def with_misreports(seed: int) -> TroubleshootingProblem:
    """Of all answers, 15 in 100 are wrong, evenly over the other answers."""
    problem = random_problem(seed)
    return replace(problem, answer_tables=[{w: _misread(row) for w, row in table.items()} for table in problem.answer_tables])


def with_all_of_it(seed: int) -> TroubleshootingProblem:
    """Dependent fixes, dear questions and misreports at once."""
    misread, dear = with_misreports(seed), with_dear_questions(seed)
    return replace(with_dependent_fixes(seed), answer_tables=misread.answer_tables, question_costs=dear.question_costs)


def informative_with_misreports(seed: int) -> TroubleshootingProblem:
    """Informative questions with 15 wrong answers in 100."""
    return informative_problem(seed, MISREPORT)


def _misread(row: Sequence[float]) -> list[float]:
    others = len(row) - 1
    return [(1 - MISREPORT) * p + MISREPORT * (1 - p) / others for p in row]


FAMILIES: Mapping[str, Callable[[int], TroubleshootingProblem]] = {
    "overlapping fixes": random_problem,
    "dependent fixes": with_dependent_fixes,
    "dear questions": with_dear_questions,
    "15 % misreports": with_misreports,
    "all of these": with_all_of_it,
    "telling questions": informative_problem,
    "telling, 15 % misreports": informative_with_misreports,
}
BASES: Mapping[str, Callable[[int, float], Knowledge]] = {"whole base": random_knowledge, "telling base": informative_knowledge}
PAIRS = (0.07, 0.3, 1.0)
"""Pairs of causes to each single one."""
