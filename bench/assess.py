"""The next step after an answer: milliseconds for rules, belief and advice over simulated sessions.

    python bench/assess.py [SESSIONS]

Causes are drawn from the shipped knowledge and answer as it says, misreports included. The reference, measured in the same
run on the same answers, is the plain-Python evaluation of the rules that the tests compare experta with.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import sys
import time
from collections import defaultdict
from collections.abc import Callable
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table

from nopost.advice.assess import Assessor
from nopost.advice.observations import Observations
from nopost.advice.step import StepKind
from nopost.belief.evidence import Report
from nopost.knowledge.load import load_knowledge
from nopost.knowledge.model import Knowledge
from nopost.rules.engine import firing_order
from nopost.rules.outcome import Outcome

STEPS = 40


def plain_rules(knowledge: Knowledge, order: list[Any], answers: dict[str, str]) -> Outcome:
    """The first rule that holds and has not fired, again and again."""
    outcome, left = Outcome(answers), list(order)
    while (rule := next((r for r in left if r.when.hold(outcome.answers(), {})), None)) is not None:
        left.remove(rule)
        outcome.fire(rule)
    return outcome


class Clock:
    """Milliseconds by name."""

    def __init__(self) -> None:
        self.spent: dict[str, list[float]] = defaultdict(list)

    def timed(self, name: str, work: Callable[..., Any]) -> Callable[..., Any]:
        def run(*args: Any, **options: Any) -> Any:
            begun = time.perf_counter()
            result = work(*args, **options)
            self.spent[name].append(1e3 * (time.perf_counter() - begun))
            return result

        return run


def play(assessor: Assessor, clock: Clock, dice: np.random.Generator, order: list[Any]) -> None:
    """One session: a cause answers until it is mended or the shop is due."""
    model = assessor.model
    prior = np.exp(model.h.log_prior)
    hidden = int(dice.choice(len(prior), p=prior / prior.sum()))
    seen = Observations()
    for _ in range(STEPS):
        step = clock.timed("assess", assessor.assess)(seen).advice.step
        clock.timed("reference", plain_rules)(assessor.knowledge, order, seen.current())
        if step.kind is StepKind.SHOP:
            return
        if step.kind is StepKind.ASK:
            row = model.tables[step.id][hidden]
            answer = assessor.knowledge.findings[step.id].answer_ids[int(dice.choice(len(row), p=row / row.sum()))]
            seen = Observations((*seen.reports, Report(step.id, answer, len(seen.tried))), seen.tried)
            continue
        causes = {model.h.causes[c] for c in (model.h.first[hidden], model.h.second[hidden]) if c >= 0}
        if causes and all(dice.random() < assessor.knowledge.causes[c].fixes.get(step.id, 0.0) for c in causes):
            return
        seen = Observations(seen.reports, (*seen.tried, step.id))


def main() -> None:
    """Print the table."""
    sessions = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    assessor, clock, dice = Assessor(load_knowledge()), Clock(), np.random.default_rng(5)
    for name, owner, method in (
        ("rules", assessor.rules, "run"),
        ("belief", assessor.model, "posterior"),
        ("advice", assessor.adviser, "advise"),
    ):
        setattr(owner, method, clock.timed(name, getattr(owner, method)))
    order = firing_order(assessor.knowledge.rules)
    for _ in range(sessions):
        play(assessor, clock, dice, order)
    table = Table(title=f"{sessions} sessions, {len(clock.spent['assess'])} next steps, milliseconds")
    for title in ("part", "median", "95 of 100 under", "median over the reference"):
        table.add_column(title, justify="right")
    base = float(np.median(clock.spent["reference"]))
    for name in ("assess", "rules", "belief", "advice", "reference"):
        values = np.array(clock.spent[name])
        label = "plain-Python rules (reference)" if name == "reference" else name
        table.add_row(label, f"{np.median(values):.2f}", f"{np.percentile(values, 95):.2f}", f"{np.median(values) / base:.2f}")
    Console().print(table)


if __name__ == "__main__":
    main()
