"""What is said of fixes in vain, and of causes that one event brings together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from nopost.knowledge.problem import Problem, ProblemCode
from nopost.linting.lint_check import Check, Stage


class NoUsualChange(Check):
    """A cause says what is seen after a fix in vain only where the fix says what is usual."""

    code = ProblemCode(
        "no-usual-change",
        "A cause with a chance of a change after a fix that says none itself",
        "What one cause shows weighs only against what is usual with all others.",
        "Write changes: into the action, with the chance for a cause that the fix does not touch.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for cause in self.items.causes.values():
            for name in cause.changes:
                action = self.items.actions.get(name)
                if action and action.kind == "fix" and action.changes is None:
                    message, hint = f"{name} has no changes: of its own", f"add changes: to actions/{name}.yaml"
                    yield self.problem("causes", cause.id, ("changes", name), message, hint)


class CoupledPair(Check):
    """Coupled causes can be together, each pair is named once, and no cause gives away all that it has."""

    code = ProblemCode(
        "coupled-pair",
        "A coupling of causes that cannot be",
        "Only pairs of causes that can be together have a chance that a coupling could raise.",
        "Take the entry out of coupled:, or alone: out of the cause.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        couplings = self.items.base.coupled if self.items.base else ()
        named: set[tuple[str, str]] = set()
        shares: dict[str, float] = defaultdict(float)
        for place, coupling in enumerate(couplings):
            pair = coupling.first, coupling.second
            for number, name in enumerate(pair):
                cause = self.items.causes.get(name)
                if cause and cause.alone:
                    yield self._at(place, ("causes", number), f"{name} is alone: it forms no pair")
            if pair in named:
                yield self._at(place, ("causes",), f"{' and '.join(pair)} are coupled twice")
            shares[coupling.first] += coupling.share
            if pair not in named and shares[coupling.first] - coupling.share < 1 <= shares[coupling.first]:
                yield self._at(
                    place, ("share",), f"the shares of {coupling.first} come to {shares[coupling.first]:g}: no one is left"
                )
            named.add(pair)

    def _at(self, place: int, where: tuple[str | int, ...], message: str) -> Problem:
        return self.problem("", "", ("coupled", place, *where), message, "take this entry out, or correct it")


CHECKS = (NoUsualChange, CoupledPair)
