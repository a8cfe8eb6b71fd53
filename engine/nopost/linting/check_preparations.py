"""Preparations: whether they lead round in a circle, and whether a step takes place there."""

from __future__ import annotations

from collections.abc import Iterator

from nopost.knowledge.problem import Problem, ProblemCode, Severity
from nopost.linting.lint_check import Check, Stage


class PreparationCircle(Check):
    """No preparation needs itself before it."""

    code = ProblemCode(
        "preparation-circle",
        "A preparation that needs itself",
        "What comes before it cannot be made without it, so no step could ever take place there.",
        "Take one of the needs: of the circle out.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        preparations = self.items.base.preparations if self.items.base else {}
        for name, preparation in preparations.items():
            before, waiting = set[str](), list(preparation.needs)
            while waiting:
                need = waiting.pop()
                if need not in before and need in preparations:
                    before.add(need)
                    waiting.extend(preparations[need].needs)
            if name in before:
                message = f"{name} comes before itself"
                yield self.problem("", "", ("preparations", name, "needs"), message, "take one of the circle's needs out")


class UnusedPreparation(Check):
    """Something takes place in each preparation."""

    code = ProblemCode(
        "unused-preparation",
        "A preparation in which nothing takes place",
        "No finding, no action and no other preparation names it, so it costs nobody anything.",
        "Name it under at: where a step takes place there, or delete it.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        k = self.knowledge
        used = {name for finding in k.findings.values() for name in finding.at}
        used |= {name for action in k.actions.values() for name in action.at}
        used |= {need for preparation in k.base.preparations.values() for need in preparation.needs}
        for name in k.base.preparations.keys() - used:
            message = f"no step takes place in {name}"
            yield self.problem("", "", ("preparations", name), message, "name it under at:, or delete it")


CHECKS = (PreparationCircle, UnusedPreparation)
