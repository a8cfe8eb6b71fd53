"""What nothing uses.

Looked for in every knowledge base whose files could all be read (a broken one might hold what is missed): causes at all, actions
that nobody names, items that start closed for ever. Looked for when it loads: findings, hazards, tools, parts and code rows that
nothing uses.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TypeVar

from nopost.knowledge import model as m
from nopost.knowledge.effects import EFFECTS, Effect
from nopost.knowledge.problem import Problem, ProblemCode, Severity
from nopost.linting.lint_check import Check, Stage, placed_conditions


class NoCauses(Check):
    """There is something to find."""

    code = ProblemCode(
        "no-causes",
        "There is not one cause",
        "There is nothing to find.",
        "Add files to causes/.",
    )
    stage = Stage.WHOLE

    def run(self) -> Iterator[Problem]:
        if not self.items.causes:
            yield self.problem("", "", (), "there is not one cause", "add files to causes/")


class UnusedAction(Check):
    """Each test and each fix is named by someone; not known while a name leads elsewhere, for it may be meant there."""

    code = ProblemCode(
        "unused-action",
        "An action that nothing needs",
        "It is never offered.",
        "Name it in a finding or a cause, or delete it.",
    )
    stage = Stage.WHOLE

    def run(self) -> Iterator[Problem]:
        named = {
            "test": {finding.action for finding in self.items.findings.values() if finding.action},
            "fix": {name for cause in self.items.causes.values() for name in cause.fixes},
        }
        for kind, names in named.items():
            actions = {name for name, action in self.items.actions.items() if action.kind == kind}
            for name in actions - names if names <= actions else ():
                hint = "name it in a finding's action or a cause's fixes, or delete it"
                yield self.problem("actions", name, (), f"no {kind} is needed for anything", hint)


class NeverOpen(Check):
    """What starts closed is opened by some rule; not known while one opens what is not there."""

    code = ProblemCode(
        "never-open",
        "Something that starts closed and that no rule opens",
        "It is never asked or offered.",
        "Add a rule that opens it.",
    )
    stage = Stage.WHOLE

    def run(self) -> Iterator[Problem]:
        closed: Mapping[str, Mapping[str, bool]] = {
            "findings": {name: finding.closed for name, finding in self.items.findings.items()},
            "actions": {name: action.closed for name, action in self.items.actions.items()},
        }
        openings = {folder: [effect for effect, t in EFFECTS.items() if t.opens and t.folder == folder] for folder in closed}
        for folder, effects in openings.items():
            opened = {c.target for rule in self.items.rules.values() for c in rule.then if c.effect in effects}
            for name in closed[folder] if opened <= closed[folder].keys() else ():
                if closed[folder][name] and name not in opened:
                    message, hint = "starts closed and no rule opens it", "add a rule, or delete closed"
                    yield self.problem(folder, name, ("closed",), message, hint)


T = TypeVar("T")


class UnusedFinding(Check):
    """Each finding bears on a cause, or some condition asks for it."""

    code = ProblemCode(
        "unused-finding",
        "A finding that bears on nothing",
        "No cause names it and no condition asks for it, so its answer changes nothing.",
        "Name it in the causes that it tells of, or delete it.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        k = self.knowledge
        used = {name for cause in k.causes.values() for name in cause.shows}
        used |= {condition.name for *_, condition in placed_conditions(k) if not condition.of_fact}
        for finding in k.findings.values():
            read = finding.reads.finding if finding.reads else ""
            if finding.id not in used and read not in used and not (read and read in self.context.belief.informative_findings):
                message = "no cause names it, no rule and no when asks for it: its answer changes nothing"
                yield self.problem("findings", finding.id, (), message, "name it in a cause's shows, or delete it")


class UnusedHazard(Check):
    """Each hazard is named by a step or raised by a rule."""

    code = ProblemCode(
        "unused-hazard",
        "A hazard that is never shown",
        "No step names it and no rule raises it.",
        "Name it, or delete it.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        k = self.knowledge
        named = {name for hazards in _of_each_item(k, lambda item: item.hazards) for name in hazards}
        named |= {says.target for rule in k.rules.values() for says in rule.then if says.effect is Effect.CAUTION}
        named |= {name for names in k.base.roles.hazards.values() for name in names}
        for name in k.hazards.keys() - named:
            message = "no finding, action or cause names it, and no rule raises it"
            yield self.problem("hazards", name, (), message, "name it where it threatens, or delete it")


class UnusedTool(Check):
    """Each tool is needed somewhere."""

    code = ProblemCode(
        "unused-tool",
        "A tool that nothing needs",
        "No finding or action asks for it.",
        "Name it under needs:, or delete it.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        k = self.knowledge
        needed = {need for finding in k.findings.values() for need in finding.needs}
        needed |= {need for action in k.actions.values() for need in action.needs}
        for name in k.base.tools.keys() - needed - set(k.base.roles.tools.values()):
            message = f"no finding or action needs the tool {name}"
            yield self.problem("", "", ("tools", name), message, "name it under needs:, or delete it")


class UnusedPart(Check):
    """Each part is the part of something."""

    code = ProblemCode(
        "unused-part",
        "A part to which nothing belongs",
        "No item has this part.",
        "Delete it from base.yaml.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        k = self.knowledge
        named = set(_of_each_item(k, lambda item: item.part))
        for name in k.base.parts.keys() - named:
            yield self.problem("", "", ("parts", name), f"nothing belongs to the part {name}", "delete it")


class CodeTwice(Check):
    """In a code table each code stands once for each kind, so that no row hides another."""

    code = ProblemCode(
        "code-twice",
        "A code that stands twice in its table with the same meaning",
        "The second row adds nothing and may be edited in the belief that it counts.",
        "Keep one of the rows.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        for table in self.knowledge.codes.values():
            first: dict[tuple[str, str], int] = {}
            for index, code in enumerate(table.codes):
                key = (code.code.casefold(), code.kind)
                if key in first and _same_reading(table.codes[first[key]], code):
                    message = f"code {code.code!r} stands twice with the same kind and meaning"
                    yield self.problem("codes", table.id, ("codes", index, "code"), message, "keep one of them")
                first.setdefault(key, index)


CHECKS = (NoCauses, UnusedAction, NeverOpen, UnusedFinding, UnusedHazard, UnusedTool, UnusedPart, CodeTwice)


def _of_each_item(k: m.Knowledge, of: Callable[[m.Finding | m.Action | m.Cause], T]) -> Iterator[T]:
    """Something of every finding, action and cause."""
    yield from map(of, k.findings.values())
    yield from map(of, k.actions.values())
    yield from map(of, k.causes.values())


def _same_reading(one: m.Code, other: m.Code) -> bool:
    keys = ("phase", "stage", "meaning", "symbol", "status")
    return all(getattr(one, key) == getattr(other, key) for key in keys)
