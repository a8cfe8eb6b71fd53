"""What can never happen: questions nobody is asked, actions never offered, rules that never fire, answers nobody gives."""

from __future__ import annotations

from collections.abc import Iterator

from nopost.knowledge import model as m
from nopost.knowledge.yaml_file import Path_
from nopost.review.conditions import NOTHING, both, can_hold, obstacle, wanted
from nopost.review.remark import Remark
from nopost.review.view import View


def questions(view: View) -> Iterator[Remark]:
    """Each question can be asked one day."""
    for finding in view.knowledge.findings.values():
        if finding.question and finding.id not in view.reach.asked:
            where, reason = _why_shut(view, finding)
            yield view.remark("findings", finding.id, where, "never-asked", reason, "correct its when")


def actions(view: View) -> Iterator[Remark]:
    """Each action can be offered one day."""
    for action in view.knowledge.actions.values():
        if action.id not in view.reach.done:
            where, reason = _why_shut(view, action)
            yield view.remark("actions", action.id, where, "never-offered", reason, "correct its when")


def rules(view: View) -> Iterator[Remark]:
    """Each rule can fire one day."""
    for rule in view.knowledge.rules.values():
        if rule.id not in view.reach.fired:
            where, reason = obstacle(rule.when, view.reach.possible) or ((), "its conditions never hold together")
            yield view.remark("rules", rule.id, where, "never-fires", reason, "correct its when, or delete it")


def values(view: View) -> Iterator[Remark]:
    """Of several values in a condition each can happen; a condition with none is reported as what it stops."""
    for folder, item, place, condition in _conditions(view):
        possible = view.reach.possible.get((condition.of_fact, condition.name), NOTHING)
        idle = [value for value in condition.values if value not in possible]
        if idle and (len(idle) < len(condition.values) or place[1] == "none"):
            message = f"nothing ever makes {condition.name} {' or '.join(idle)}"
            yield view.remark(folder, item, place, "never-so", message, "take it out, or let a question or rule give it")


def unseen(view: View) -> Iterator[Remark]:
    """A finding without a question is derived, read by an instrument, or answered from codes."""
    read = {finding.reads.finding for finding in view.knowledge.findings.values() if finding.reads}
    for finding in view.knowledge.findings.values():
        seen = (False, finding.id) in view.reach.possible or finding.id in read
        if not finding.question and not seen:
            message = "no question asks it, no rule derives it, no instrument reads it"
            yield view.remark("findings", finding.id, (), "never-seen", message, "add question:, or a rule that derives it")


def together(view: View) -> Iterator[Remark]:
    """What a rule asks for can be answered in one sitting: no question among it is only asked when another does not hold."""
    for rule in view.knowledge.rules.values():
        if rule.id in view.reach.fired:
            found = _excluded(view, rule.when)
            if found:
                index, name = found
                message = f"{rule.when.all[index].name} is only asked when {name} is something else"
                where = ("when", "all", index)
                yield view.remark("rules", rule.id, where, "never-together", message, "take one of the two conditions out")


CHECKS = (questions, actions, rules, values, unseen, together)


def _excluded(view: View, when: m.Conditions) -> tuple[int, str] | None:
    """Place of a condition whose question needs what the other conditions exclude, and the name that they quarrel about."""
    for index, condition in enumerate(when.all):
        needed = _needed(view, condition)
        if not can_hold(both(m.Conditions(when.all), needed), view.reach.possible):
            merged = wanted(both(m.Conditions(when.all), needed))
            return index, next(name for (_, name), left in merged.items() if not left)
    return None


def _needed(view: View, condition: m.Condition) -> m.Conditions:
    """What must hold before the question of a condition is asked; nothing when its answer can come from elsewhere."""
    if condition.of_fact or condition.name in view.reach.told:
        return m.Conditions()
    finding = view.knowledge.findings[condition.name]
    test = view.knowledge.actions[finding.action].when if finding.action else m.Conditions()
    return m.Conditions((*finding.when.all, *test.all))


def _why_shut(view: View, item: m.Finding | m.Action) -> tuple[Path_, str]:
    """Where and why it is never open."""
    found = obstacle(item.when, view.reach.possible)
    if found:
        return found
    if isinstance(item, m.Finding) and item.action and item.action not in view.reach.done:
        return ("action",), f"its test {item.action} is never offered"
    return ("closed",), "it starts closed, and no rule that opens it ever fires"


def _conditions(view: View) -> Iterator[tuple[str, str, Path_, m.Condition]]:
    """Every condition with its place."""
    items = {"findings": view.knowledge.findings, "actions": view.knowledge.actions, "rules": view.knowledge.rules}
    for folder, held in items.items():
        for name, item in held.items():
            when: m.Conditions = item.when  # type: ignore[attr-defined]
            for key, conditions in (("all", when.all), ("none", when.none)):
                for index, condition in enumerate(conditions):
                    yield folder, name, ("when", key, index), condition
