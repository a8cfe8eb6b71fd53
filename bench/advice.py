"""Advice against the exact optimum of small problems, and simulated repairs beside the figures that were published.

Published: Heckerman, Breese & Rommelse 1995, CACM 38(3), mean cost of repair of printing trouble by simulation: all-knowing 127,
decision-theoretic 154, a fixed sequence 298, random 457. Another trade with other costs, so only the ratios can be compared.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from advice.optimum import SHOP, Move, State, Trouble, optimum, played, start
from advice.play import Policy, advised, as_trouble, assessed
from advice.troubles import random_knowledge
from bench.section import Options, Section
from bench.troubles import FAMILIES, PAIRS
from nopost.advice.assess import Assessor
from nopost.knowledge.load import load_knowledge
from nopost.trial.checklist import read_checklist
from nopost.trial.score import summaries
from nopost.trial.simulate import simulate

EQUAL = 1e-9
PUBLISHED = {"all-knowing": 127, "advice": 154, "checklist": 298, "random": 457}


def sections(options: Options) -> list[Section]:
    """Both tables."""
    return [_against_optimum(options), _against_published(options)]


def _against_optimum(options: Options) -> Section:
    count = options.few(120, 6)
    table = Section(
        f"Expected cost above the exact optimum, in percent of it; {count} random problems of each kind",
        ("problems", "advice: mean", "95 of 100 under", "worst", "is optimal %", "no questions: mean", "shop at once: mean"),
    )
    for name, make in FAMILIES.items():
        problems = [make(options.seed * 10_000 + k) for k in range(count)]
        table.add(name, *_row(problems, [advised(t) for t in problems]))
    for two_faults in PAIRS:
        few = options.few(40, 3)
        assessors = [Assessor(random_knowledge(options.seed * 10_000 + k, two_faults)) for k in range(few)]
        problems = [as_trouble(a) for a in assessors]
        table.add(f"whole assessments, {two_faults:g} pairs to 1 ({few})", *_row(problems, [assessed(a) for a in assessors]))
    table.notes.append(
        "Optimum: dynamic programming over all that can be known and done. Is optimal: part of the problems. No questions: "
        "falling chance over cost, computed anew after each failure, until the shop is cheaper."
    )
    return table


def _row(problems: Sequence[Trouble], policies: Sequence[Policy]) -> list[float]:
    least = np.array([optimum(t) for t in problems])
    ours = np.array([played(t, p) for t, p in zip(problems, policies, strict=True)]) / least
    assert ours.min() > 1 - EQUAL, "cheaper than the optimum: one of the two is wrong"
    silent = np.array([played(t, no_questions(t)) for t in problems]) / least
    given_up = np.array([t.shop * start(t).weight for t in problems]) / least
    optimal = float((ours < 1 + EQUAL).mean())
    return [
        *map(float, (ours.mean(), np.percentile(ours, 95), ours.max())),
        optimal,
        float(silent.mean()),
        float(given_up.mean()),
    ]


def no_questions(trouble: Trouble) -> Callable[[State], Move]:
    """The reference without questions."""

    def mends(state: State, fix: int) -> float:
        """Probability that this fix starts the machine now."""
        chance = trouble.chance[fix]
        return sum(w * float(np.prod([chance.get(c, 0.0) for c in world])) for world, w in state.belief.items() if world)

    def choose(state: State) -> Move:
        ratios = [(mends(state, f) / state.weight / trouble.fix[f], f) for f in state.left("fix", len(trouble.fix))]
        best, fix = max(ratios, default=(0.0, 0))
        return ("fix", fix) if best > 1 / trouble.shop else SHOP

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
            "ratio to the all-knowing",
            "±",
            "published",
            "published ratio",
            "repaired",
            "questions",
        ),
    )
    for s in summaries(result):
        ratio = s.to_bound.value if s.to_bound else None
        margin = s.to_bound.margin if s.to_bound else None
        number = PUBLISHED[s.strategy]
        theirs = number / PUBLISHED["all-knowing"]
        table.add(s.strategy, s.effort.value, s.effort.margin, ratio, margin, number, theirs, s.repaired, s.questions)
    table.notes.append(
        "± holds for 95 of 100 samples. Published: Heckerman, Breese & Rommelse 1995, printing trouble, other costs."
    )
    return table
