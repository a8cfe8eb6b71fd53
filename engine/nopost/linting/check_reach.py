"""What can never happen: questions nobody is asked, actions never offered, rules that never fire, answers nobody gives."""

from __future__ import annotations

from collections.abc import Iterator

from nopost.knowledge import model as m
from nopost.knowledge.problem import Problem, ProblemCode, Severity
from nopost.knowledge.yaml_reader import KeyPath
from nopost.linting.lint_check import Check, LintContext, placed_conditions
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
    """A finding without a question is derived, read by an instrument, or answered from codes."""

    code = ProblemCode(
        "never-seen",
        "A finding that nobody can answer",
        "It has no question, no rule derives it, no instrument reads it and no code tells it.",
        "Add question:, or a rule that derives it; or delete it.",
    )

    def run(self) -> Iterator[Problem]:
        read = {finding.reads.finding for finding in self.knowledge.findings.values() if finding.reads}
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


CHECKS = (NeverAsked, NeverOffered, NeverFires, NeverSo, NeverSeen, NeverTogether)


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
