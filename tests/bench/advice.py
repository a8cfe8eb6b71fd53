"""Advice against the exact optimum of small problems, and simulated repairs beside the figures that were published.

Published: Heckerman, Breese & Rommelse 1995, CACM 38(3), mean cost of repair of printing trouble by simulation: oracle 127,
decision-theoretic 154, a fixed sequence 298, random 457. Another trade with other costs, so only the ratios can be compared.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

import numpy as np

from bench.problem_families import BASES, FAMILIES, PAIRS
from bench.section import Options, Section
from diagnosis.advice.optimum import LAST_RESORT, Move, State, TroubleshootingProblem, cost_of_policy, optimal_cost, start
from diagnosis.advice.policies import Policy, adviser_policy, as_problem, diagnosis_policy
from diagnosis.advice.workbench import cost_of_policy as workbench_cost
from diagnosis.advice.workbench import engine_policy, random_workbench
from diagnosis.advice.workbench import optimal_cost as workbench_optimum
from nopost.diagnosis.advice import value_of_information
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.diagnose import Diagnostician
from nopost.evaluation.episode import read_checklist
from nopost.evaluation.scores import summaries
from nopost.evaluation.simulation import simulate
from nopost.loading import load_knowledge

EQUAL = 1e-7
PUBLISHED = {"oracle": 127, "advice": 154, "checklist": 298, "random": 457}


def sections(options: Options) -> list[Section]:
    """All tables."""
    return [_against_optimum(options), _on_the_workbench(options), _against_published(options)]


def _on_the_workbench(options: Options) -> Section:
    count = options.few(400, 6)
    table = Section(
        f"The same with preparations, rounds of looks and postponed trials; {count} random benches",
        ("problems", "advice", "95 of 100 under", "worst", "% optimal", "one look at a time, a trial after each fix"),
    )
    benches = [random_workbench(options.seed * 10_000 + k) for k in range(count)]
    least = np.array([workbench_optimum(bench) for bench in benches])
    ours = np.array([100 * (workbench_cost(b, engine_policy(b)) / o - 1) for b, o in zip(benches, least, strict=True)])
    assert ours.min() > -EQUAL, "cheaper than the optimum: one of the two is wrong"
    plain = np.array([100 * (workbench_optimum(b, one_by_one=True) / o - 1) for b, o in zip(benches, least, strict=True)])
    numbers = (ours.mean(), np.percentile(ours, 95), ours.max(), 100 * (ours < EQUAL).mean(), plain.mean())
    table.add("workbench", *(round(float(number), 3) for number in numbers))
    table.notes.append(
        "Optimum: dynamic programming over all steps and states. The last column is the optimum without rounds and blocks."
    )
    return table


def _against_optimum(options: Options) -> Section:
    count, few = options.few(120, 6), options.few(40, 3)
    table = Section(
        f"Expected cost above the exact optimum, in percent of it; {count} random problems of each kind, {few} whole bases",
        ("problems", "advice", "95 of 100 under", "worst", "% optimal", "one ahead", "none asked", "shop"),
    )
    for name, make in FAMILIES.items():
        problems = [make(options.seed * 10_000 + k) for k in range(count)]
        table.add(name, *_row(problems, [adviser_policy(t) for t in problems], ahead=True))
    for (name, make_base), two_faults in itertools.product(BASES.items(), PAIRS):
        assessors = [Diagnostician(make_base(options.seed * 10_000 + k, two_faults)) for k in range(few)]
        problems = [as_problem(a) for a in assessors]
        table.add(f"{name}, {two_faults:g} pairs", *_row(problems, [diagnosis_policy(a) for a in assessors]))
    table.notes.append(
        "Optimum: dynamic programming over all that can be known and done. Means: advice, one ahead, none asked and shop. "
        "Advice looks two questions ahead where that is cheap, as here; one ahead is how it goes with many. None asked: "
        "falling chance over cost, computed anew after each failure, until the shop is cheaper. Pairs: to each single cause."
    )
    return table


def _row(problems: Sequence[TroubleshootingProblem], policies: Sequence[Policy], ahead: bool = False) -> list[float | None]:
    least = np.array([optimal_cost(t) for t in problems])

    def above(policy: Sequence[Policy]) -> Floats:
        return np.array([100 * (cost_of_policy(t, p) / o - 1) for t, p, o in zip(problems, policy, least, strict=True)])

    ours, one_ahead = above(policies), None
    assert ours.min() > -EQUAL, "cheaper than the optimum: one of the two is wrong"
    if ahead:
        with one_question_ahead():
            one_ahead = float(above(policies).mean())
    given_up = np.array([100 * (t.last_resort_cost * start(t).weight / o - 1) for t, o in zip(problems, least, strict=True)])
    silent = above([no_questions(t) for t in problems])
    numbers = (
        ours.mean(),
        np.percentile(ours, 95),
        ours.max(),
        100 * (ours < EQUAL).mean(),
        one_ahead,
        silent.mean(),
        given_up.mean(),
    )
    return [None if number is None else round(float(number), 3) for number in numbers]


@contextmanager
def one_question_ahead() -> Iterator[None]:
    """No two questions in a row are looked at."""
    usual = value_of_information.TWO_STEP_BRANCHES
    value_of_information.TWO_STEP_BRANCHES = 0
    try:
        yield
    finally:
        value_of_information.TWO_STEP_BRANCHES = usual


def no_questions(problem: TroubleshootingProblem) -> Callable[[State], Move]:
    """The reference without questions."""

    def mends(state: State, fix: int) -> float:
        """Probability that this fix starts the machine now."""
        chance = problem.repair_probability[fix]
        return sum(w * float(np.prod([chance.get(c, 0.0) for c in world])) for world, w in state.belief.items() if world)

    def choose(state: State) -> Move:
        ratios = [
            (mends(state, f) / state.weight / problem.fix_costs[f], f) for f in state.remaining("fix", len(problem.fix_costs))
        ]
        best, fix = max(ratios, default=(0.0, 0))
        return ("fix", fix) if best > 1 / problem.last_resort_cost else LAST_RESORT

    return choose


def _against_published(options: Options) -> Section:
    knowledge, runs = load_knowledge(), options.few(600, 6)
    result = simulate(knowledge, runs, options.seed, tuple(PUBLISHED), checklist=read_checklist(knowledge))
    table = Section(
        f"Simulated repairs of {runs} machines of the shipped base, seed {options.seed}",
        (
            "strategy",
            "effort",
            "± of it",
            "ratio to the oracle",
            "±",
            "published",
            "published ratio",
            "repaired",
            "questions",
        ),
    )
    for s in summaries(result):
        ratio = s.to_oracle.value if s.to_oracle else None
        margin = s.to_oracle.margin if s.to_oracle else None
        number = PUBLISHED[s.strategy]
        theirs = number / PUBLISHED["oracle"]
        table.add(s.strategy, s.effort.value, s.effort.margin, ratio, margin, number, theirs, s.repaired, s.questions)
    table.notes.append(
        "± holds for 95 of 100 samples. Published: Heckerman, Breese & Rommelse 1995, printing trouble, other costs."
    )
    return table
