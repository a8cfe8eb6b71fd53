"""The next step after an answer on the shipped base: rules, belief and advice over simulated sessions, beside plain rules."""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Callable
from typing import Any

import numpy as np

from bench.rules import plain_rules
from bench.section import Options, Section
from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.belief.evidence import Observations, Report
from nopost.diagnosis.diagnose import Diagnostician
from nopost.loading import load_knowledge

MOST_STEPS = 40
AIM = 25.0
"""Milliseconds that 95 of 100 next steps may take at the shipped size."""


class Stopwatch:
    """Milliseconds by name."""

    def __init__(self) -> None:
        self.spent: dict[str, list[float]] = defaultdict(list)

    def timed(self, name: str, work: Callable[..., Any]) -> Callable[..., Any]:
        """The same work, timed under this name."""

        def run(*args: Any, **options: Any) -> Any:
            begun = time.process_time()
            result = work(*args, **options)
            self.spent[name].append(1e3 * (time.process_time() - begun))
            return result

        return run


def sections(options: Options) -> list[Section]:
    """Sessions are played by the advice; causes are drawn by the prior and answer as the knowledge says, misreports included."""
    diagnostician, watch, dice = Diagnostician(load_knowledge()), Stopwatch(), np.random.default_rng(options.seed)
    for name, owner, method in (
        ("rules (experta)", diagnostician.ranker.rules, "run"),
        ("belief", diagnostician.model, "posterior"),
        ("advice", diagnostician.adviser, "advise"),
    ):
        setattr(owner, method, watch.timed(name, getattr(owner, method)))
    for _ in range(options.few(60, 4)):
        play(diagnostician, watch, dice)
    table = Section(
        f"One next step on the shipped base, over {len(watch.spent['whole step'])} steps of simulated sessions",
        ("part", "median ms", "95 of 100 under ms", "median over plain rules"),
    )
    base = float(np.median(watch.spent["plain rules (reference)"]))
    for name, spent in sorted(watch.spent.items(), key=lambda pair: -float(np.median(pair[1]))):
        table.add(name, float(np.median(spent)), float(np.percentile(spent, 95)), float(np.median(spent)) / base)
    table.notes.append(f"Aim: 95 of 100 whole steps in under {AIM:g} ms. Processor time.")
    return [table]


def play(diagnostician: Diagnostician, watch: Stopwatch, dice: np.random.Generator) -> None:
    """One session: until the machine is mended or the shop is due."""
    model, knowledge, plain = diagnostician.model, diagnostician.knowledge, plain_rules(diagnostician.knowledge.rules)
    prior = np.exp(model.hypotheses.log_prior)
    hidden = int(dice.choice(len(prior), p=prior / prior.sum()))
    causes = {model.hypotheses.causes[c] for c in (model.hypotheses.first[hidden], model.hypotheses.second[hidden]) if c >= 0}
    seen = Observations()
    for _ in range(MOST_STEPS):
        step = watch.timed("whole step", diagnostician.assess)(seen).advice.step
        watch.timed("plain rules (reference)", plain)(seen.current(), seen.facts)
        if step.kind is StepKind.LAST_RESORT:
            return
        if step.kind is StepKind.ASK:
            row = model.reported_answer_tables[step.id][hidden]
            answer = knowledge.findings[step.id].answer_ids[int(dice.choice(len(row), p=row / row.sum()))]
            seen = Observations((*seen.reports, Report(step.id, answer, len(seen.tried))), seen.tried)
            continue
        if causes and all(dice.random() < knowledge.causes[c].fixes.get(step.id, 0.0) for c in causes):
            return
        seen = Observations(seen.reports, (*seen.tried, step.id))
