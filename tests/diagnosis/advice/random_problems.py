"""Small random repair problems, the same for the same seed: with single faults, and whole knowledge bases with pairs of faults.

In the informative ones asking is worth much: questions are cheap and discriminate well, fixes are dear. The text that seeds their
random numbers must not change, or the published figures of the benchmark change with it.
"""

from __future__ import annotations

import random

import small
from diagnosis.advice.optimum import TroubleshootingProblem, World
from nopost.knowledge.model import Finding, Knowledge

CAUSES = 4


def random_problem(seed: int) -> TroubleshootingProblem:
    """2-5 causes (one at a time) and none of them; 2-5 overlapping fixes; 1-4 questions with 2-3 answers; a shop."""
    rng = random.Random(seed)
    causes, questions, fixes = rng.randint(2, 5), rng.randint(1, 4), rng.randint(2, 5)
    worlds: list[World] = [*(frozenset({c}) for c in range(causes)), frozenset()]
    weights = [*(rng.uniform(0.05, 1.0) for _ in range(causes)), 0.05]
    dearest = rng.choice([2.0, 8.0, 20.0])
    return TroubleshootingProblem(
        prior={w: weight / sum(weights) for w, weight in zip(worlds, weights, strict=True)},
        answer_tables=[_table(rng, worlds) for _ in range(questions)],
        question_costs=[rng.uniform(0.2, dearest) for _ in range(questions)],
        repair_probability=[_chances(rng, causes, fix) for fix in range(fixes)],
        fix_costs=[rng.uniform(2.0, 40.0) for _ in range(fixes)],
        last_resort_cost=rng.uniform(60.0, 200.0),
    )


def _table(rng: random.Random, worlds: list[World]) -> dict[World, list[float]]:
    """Some worlds have a distribution of answers of their own, the others share one."""
    answers = rng.randint(2, 3)
    common = _distribution(rng, answers)
    return {world: _distribution(rng, answers) if rng.random() < 0.6 else common for world in worlds}


def _distribution(rng: random.Random, answers: int) -> list[float]:
    raw = [rng.gammavariate(0.5, 1.0) + 0.01 for _ in range(answers)]
    return [x / sum(raw) for x in raw]


def _chances(rng: random.Random, causes: int, fix: int) -> dict[int, float]:
    """A fix is made for one cause and sometimes removes others too, so that fixes overlap."""
    chance = {c: rng.uniform(0.1, 0.95) for c in range(causes) if rng.random() < 0.3}
    chance[fix % causes] = rng.uniform(0.4, 1.0)
    return chance


def random_knowledge(seed: int, two_faults: float) -> Knowledge:
    """2-3 causes alone and in pairs, 2-3 fixes, 1-2 graded questions; minutes are money."""
    rng = random.Random(seed)
    count, fixes = rng.randint(2, 3), rng.randint(2, 3)
    findings = [_finding(rng, f"question-{q}") for q in range(rng.randint(1, 2))]
    causes = []
    for c in range(count):
        shows = {f.id: _abnormal(rng, f.answer_ids) for f in findings if rng.random() < 0.7}
        mends = {f"fix-{f}": rng.uniform(0.3, 0.95) for f in range(fixes) if f % count == c or rng.random() < 0.3}
        causes.append(small.cause(f"cause-{c}", rng.uniform(0.05, 1.0), shows, mends))
    actions = [small.fix(f"fix-{f}", rng.uniform(2.0, 40.0)) for f in range(fixes)]
    base = small.base(two_faults=two_faults, unlisted=0.05, shop=rng.uniform(60.0, 200.0))
    return small.knowledge(findings, causes, actions, base_=base)


def _finding(rng: random.Random, name: str) -> Finding:
    answers = rng.randint(2, 3)
    baseline = dict(zip("abc", [0.9] + [0.1 / (answers - 1)] * (answers - 1), strict=False))
    return small.finding(name, baseline, cost=rng.uniform(0.2, 8.0))


def _abnormal(rng: random.Random, answers: tuple[str, ...]) -> dict[str, float]:
    """The more abnormal, the likelier."""
    return dict(zip(answers, sorted(_distribution(rng, len(answers))), strict=True))


def informative_problem(seed: int, wrong: float = 0.05) -> TroubleshootingProblem:
    """4 causes, each with a dear fix of its own; 4 cheap questions that discriminate; the share `wrong` of answers is false."""
    dice = random.Random(f"telling {seed}")
    worlds: list[World] = [*(frozenset({c}) for c in range(CAUSES)), frozenset()]
    weights = [*(dice.uniform(0.2, 1.0) for _ in range(CAUSES)), 0.05]
    return TroubleshootingProblem(
        prior={w: weight / sum(weights) for w, weight in zip(worlds, weights, strict=True)},
        answer_tables=[{w: dice.choice(((1 - wrong, wrong), (wrong, 1 - wrong))) for w in worlds} for _ in range(CAUSES)],
        question_costs=[dice.uniform(0.5, 4.0) for _ in range(CAUSES)],
        repair_probability=[{c: dice.uniform(0.85, 1.0)} for c in range(CAUSES)],
        fix_costs=[dice.uniform(10.0, 50.0) for _ in range(CAUSES)],
        last_resort_cost=dice.uniform(100.0, 250.0),
    )


def informative_knowledge(seed: int, two_faults: float) -> Knowledge:
    """A whole base: 3 causes, alone and in pairs, each with a dear fix of its own; 3 cheap questions that discriminate."""
    dice = random.Random(f"telling base {seed}")
    asked = [small.finding(f"q{k}", {"fine": 0.95, "odd": 0.05}, misreport=0.03, cost=dice.uniform(0.5, 4.0)) for k in range(3)]
    fixes = [small.fix(f"fix{k}", dice.uniform(10.0, 50.0)) for k in range(3)]
    causes = []
    for k, fix in enumerate(fixes):
        shows = {f.id: {"fine": 0.07, "odd": 0.93} for f in asked if dice.random() < 0.5}
        causes.append(small.cause(f"c{k}", dice.uniform(0.2, 1.0), shows, {fix.id: dice.uniform(0.85, 0.97)}))
    base = small.base(two_faults=two_faults, unlisted=0.05, shop=dice.uniform(100.0, 250.0))
    return small.knowledge(asked, causes, fixes, base_=base)
