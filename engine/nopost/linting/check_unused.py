"""What can never happen and what is never used: questions that are never asked, rules that never fire, tests and fixes that are
never offered; and items that nothing names.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TypeVar

from nopost.knowledge import model as m
from nopost.knowledge.effects import EFFECTS, Effect
from nopost.knowledge.problem import Problem, ProblemCode, Severity
from nopost.knowledge.yaml_reader import KeyPath
from nopost.linting.lint_check import Check, LintContext, Stage, placed_conditions
from nopost.linting.reachability import NOTHING, allowed_values, can_hold, conjunction, obstacle


class NeverAsked(Check):
    """Each question can be asked one day."""

    code = ProblemCode(
        "never-asked",
        "A question that nobody is ever asked",
        "Its when asks for an answer that nothing gives, or its test is never offered, so its answers never help.",
        "Correct its when, or let a rule open it.",
    )

    def run(self) -> Iterator[Problem]:
        for finding in self.knowledge.findings.values():
            if finding.question and finding.id not in self.context.reach.asked:
                where, reason = _why_never_open(self.context, finding)
                yield self.problem("findings", finding.id, where, reason, "correct its when")


class NeverOffered(Check):
    """Each action can be offered one day."""

    code = ProblemCode(
        "never-offered",
        "An action that is never offered",
        "Its when asks for an answer that nothing gives, or the rules that would open it never fire.",
        "Correct its when, or the rule that opens it.",
    )

    def run(self) -> Iterator[Problem]:
        for action in self.knowledge.actions.values():
            if action.id not in self.context.reach.done:
                where, reason = _why_never_open(self.context, action)
                yield self.problem("actions", action.id, where, reason, "correct its when")


class NeverFires(Check):
    """Each rule can fire one day."""

    code = ProblemCode(
        "never-fires",
        "A rule that can never fire",
        "Its conditions exclude each other, or ask for answers that no question, rule or record gives.",
        "Correct the conditions, or delete the rule.",
    )

    def run(self) -> Iterator[Problem]:
        for rule in self.knowledge.rules.values():
            if rule.id not in self.context.reach.fired:
                where, reason = obstacle(rule.when, self.context.reach.possible) or ((), "its conditions never hold together")
                yield self.problem("rules", rule.id, where, reason, "correct its when, or delete it")


class NeverSo(Check):
    """Of several values in a condition each can happen; a condition with none is reported as what it stops."""

    code = ProblemCode(
        "never-so",
        "A value in a condition that never happens",
        "Nothing gives this answer, so the condition is narrower than it looks.",
        "Take the value out, or let a question or rule give it.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        for folder, item, place, condition in placed_conditions(self.knowledge):
            possible = self.context.reach.possible.get((condition.of_fact, condition.name), NOTHING)
            idle = [value for value in condition.values if value not in possible]
            if idle and (len(idle) < len(condition.values) or place[1] == "none"):
                message = f"nothing ever makes {condition.name} {' or '.join(idle)}"
                yield self.problem(folder, item, place, message, "take it out, or let a question or rule give it")


class NeverSeen(Check):
    """A finding without a question is derived, read by an instrument, the parent of another, or answered from codes."""

    code = ProblemCode(
        "never-seen",
        "A finding that nobody can answer",
        "It has no question, no rule derives it, no instrument reads it and no code tells it.",
        "Add question:, or a rule that derives it; or delete it.",
    )

    def run(self) -> Iterator[Problem]:
        read = {finding.parent_finding for finding in self.knowledge.findings.values()}
        for finding in self.knowledge.findings.values():
            seen = (False, finding.id) in self.context.reach.possible or finding.id in read
            if not finding.question and not seen:
                message = "no question asks it, no rule derives it, no instrument reads it"
                yield self.problem("findings", finding.id, (), message, "add question:, or a rule that derives it")


class NeverTogether(Check):
    """What a rule asks for can be answered in one sitting: no question among it is only asked when another does not hold."""

    code = ProblemCode(
        "never-together",
        "A rule whose conditions cannot be met in one sitting",
        "One of its questions is only asked when another of its conditions does not hold.",
        "Take one of the two conditions out, or widen the when of the question.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        for rule in self.knowledge.rules.values():
            if rule.id in self.context.reach.fired:
                found = _excluded(self.context, rule.when)
                if found:
                    index, name = found
                    message = f"{rule.when.all[index].name} is only asked when {name} is something else"
                    where = ("when", "all", index)
                    yield self.problem("rules", rule.id, where, message, "take one of the two conditions out")


REACH_CHECKS = (NeverAsked, NeverOffered, NeverFires, NeverSo, NeverSeen, NeverTogether)


def _excluded(context: LintContext, when: m.Conditions) -> tuple[int, str] | None:
    """Place of a condition whose question needs what the other conditions exclude, and the name that they quarrel about."""
    for index, condition in enumerate(when.all):
        needed = _conditions_to_ask(context, condition)
        if not can_hold(conjunction(m.Conditions(when.all), needed), context.reach.possible):
            merged = allowed_values(conjunction(m.Conditions(when.all), needed))
            return index, next(name for (_, name), left in merged.items() if not left)
    return None


def _conditions_to_ask(context: LintContext, condition: m.Condition) -> m.Conditions:
    """What must hold before the question of a condition is asked; nothing when its answer can come from elsewhere."""
    if condition.of_fact or condition.name in context.reach.told:
        return m.Conditions()
    finding = context.knowledge.findings[condition.name]
    test = context.knowledge.actions[finding.action].when if finding.action else m.Conditions()
    return m.Conditions((*finding.when.all, *test.all))


def _why_never_open(context: LintContext, item: m.Finding | m.Action) -> tuple[KeyPath, str]:
    """Where and why it is never open."""
    found = obstacle(item.when, context.reach.possible)
    if found:
        return found
    if isinstance(item, m.Finding) and item.action and item.action not in context.reach.done:
        return ("action",), f"its test {item.action} is never offered"
    return ("closed",), "it starts closed, and no rule that opens it ever fires"


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
        used = {name for cause in k.causes.values() for name in cause.named_findings}
        used |= {condition.name for *_, condition in placed_conditions(k) if not condition.of_fact}
        for finding in k.findings.values():
            read = finding.parent_finding
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


class UnusedEntry(Check):
    """Each entry of the inventory settles something."""

    code = ProblemCode(
        "unused-entry",
        "An entry of what is there that settles nothing",
        "No condition tests its fact and none of its choices puts a tool at hand: it is asked for nothing.",
        "Test its fact in a when of a finding, an action or a rule, or delete it.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        k = self.knowledge
        tested = {condition.name for *_, condition in placed_conditions(k) if condition.of_fact}
        for name, entry in k.base.inventory.items():
            if name not in tested and not any(choice.tools for choice in entry.choices.values()):
                message = f"no when tests the fact {name}, and no choice of it puts a tool at hand"
                yield self.problem("", "", ("inventory", name), message, "test it with {fact: ...}, or delete it")


class UnusedArea(Check):
    """Each area is the area of some cause."""

    code = ProblemCode(
        "unused-area",
        "An area to which no cause belongs",
        "It is shown with no probability for ever.",
        "Delete it from base.yaml, or give it to the causes that belong there.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        used = {cause.area for cause in self.knowledge.causes.values()}
        for name in self.knowledge.base.areas.keys() - used:
            yield self.problem("", "", ("areas", name), f"no cause has the area {name}", "delete it, or give it to a cause")


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


CHECKS = (
    NoCauses,
    UnusedAction,
    NeverOpen,
    UnusedFinding,
    UnusedHazard,
    UnusedTool,
    UnusedEntry,
    UnusedArea,
    UnusedPart,
    CodeTwice,
)


def _of_each_item(k: m.Knowledge, of: Callable[[m.Finding | m.Action | m.Cause], T]) -> Iterator[T]:
    """Something of every finding, action and cause."""
    yield from map(of, k.findings.values())
    yield from map(of, k.actions.values())
    yield from map(of, k.causes.values())


def _same_reading(one: m.Code, other: m.Code) -> bool:
    keys = ("phase", "stage", "meaning", "symbol", "status")
    return all(getattr(one, key) == getattr(other, key) for key in keys)
