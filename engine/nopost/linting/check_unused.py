"""What nothing uses and what can never happen.

Looked for in every knowledge base whose files could all be read (a broken one might hold what is missed): causes at all, actions
that nobody names, items that start closed for ever, rules that depend on their own absence. Looked for when it loads: findings,
hazards, tools, parts and code rows that nothing uses; questions nobody is asked, actions never offered, rules that never fire,
answers nobody gives.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TypeVar

from nopost.knowledge import model as m
from nopost.knowledge.problem import Problem
from nopost.knowledge.source_files import PartialKnowledge
from nopost.knowledge.stratification import CycleError, rule_layers
from nopost.knowledge.yaml_reader import KeyPath
from nopost.linting.lint_context import ItemProblem, LintContext
from nopost.linting.reachability import NOTHING, allowed_values, can_hold, conjunction, obstacle

OPENING_EFFECTS = {"findings": (m.Effect.OPEN_QUESTION, m.Effect.ASK_FIRST), "actions": (m.Effect.OPEN_ACTION, m.Effect.DO_FIRST)}
"""Folder of what can start closed -> the verbs that open it."""


def no_causes(context: PartialKnowledge) -> Iterator[Problem]:
    """There is something to find."""
    if not context.causes:
        yield context.problem("", "", (), "no-causes", "there is not one cause", "add files to causes/")


def unused_actions(context: PartialKnowledge) -> Iterator[Problem]:
    """Each test and each fix is named by someone; not known while a name leads elsewhere, for it may be meant there."""
    named = {
        "test": {finding.action for finding in context.findings.values() if finding.action},
        "fix": {name for cause in context.causes.values() for name in cause.fixes},
    }
    for kind, names in named.items():
        actions = {name for name, action in context.actions.items() if action.kind == kind}
        for name in actions - names if names <= actions else ():
            hint = "name it in a finding's action or a cause's fixes, or delete it"
            yield context.problem("actions", name, (), "unused-action", f"no {kind} is needed for anything", hint)


def never_open(context: PartialKnowledge) -> Iterator[Problem]:
    """What starts closed is opened by some rule; not known while one opens what is not there."""
    closed: Mapping[str, Mapping[str, bool]] = {
        "findings": {name: finding.closed for name, finding in context.findings.items()},
        "actions": {name: action.closed for name, action in context.actions.items()},
    }
    for folder, verbs in OPENING_EFFECTS.items():
        opened = {c.target for rule in context.rules.values() for c in rule.then if c.verb in verbs}
        for name in closed[folder] if opened <= closed[folder].keys() else ():
            if closed[folder][name] and name not in opened:
                message, hint = "starts closed and no rule opens it", "add a rule, or delete closed"
                yield context.problem(folder, name, ("closed",), "never-open", message, hint)


def rule_cycles(context: PartialKnowledge) -> Iterator[Problem]:
    """No rule depends on the absence of what it leads to."""
    rules = dict(context.rules)
    while chain := _cycle(rules):
        message = f"depends on its own absence: {' → '.join(chain)}"
        hint = "take the 'none' out of one of them"
        yield context.problem("rules", chain[0], ("when", "none"), "rule-cycle", message, hint)
        for name in set(chain):
            del rules[name]


WHOLE_BASE_CHECKS = (no_causes, unused_actions, never_open, rule_cycles)


def _cycle(rules: Mapping[str, m.Rule]) -> tuple[str, ...]:
    try:
        rule_layers(rules)
    except CycleError as error:
        return error.rules
    return ()


def never_asked(view: LintContext) -> Iterator[ItemProblem]:
    """Each question can be asked one day."""
    for finding in view.knowledge.findings.values():
        if finding.question and finding.id not in view.reach.asked:
            where, reason = _why_never_open(view, finding)
            yield view.remark("findings", finding.id, where, "never-asked", reason, "correct its when")


def never_offered(view: LintContext) -> Iterator[ItemProblem]:
    """Each action can be offered one day."""
    for action in view.knowledge.actions.values():
        if action.id not in view.reach.done:
            where, reason = _why_never_open(view, action)
            yield view.remark("actions", action.id, where, "never-offered", reason, "correct its when")


def never_fires(view: LintContext) -> Iterator[ItemProblem]:
    """Each rule can fire one day."""
    for rule in view.knowledge.rules.values():
        if rule.id not in view.reach.fired:
            where, reason = obstacle(rule.when, view.reach.possible) or ((), "its conditions never hold together")
            yield view.remark("rules", rule.id, where, "never-fires", reason, "correct its when, or delete it")


def never_so(view: LintContext) -> Iterator[ItemProblem]:
    """Of several values in a condition each can happen; a condition with none is reported as what it stops."""
    for folder, item, place, condition in _conditions_with_places(view):
        possible = view.reach.possible.get((condition.of_fact, condition.name), NOTHING)
        idle = [value for value in condition.values if value not in possible]
        if idle and (len(idle) < len(condition.values) or place[1] == "none"):
            message = f"nothing ever makes {condition.name} {' or '.join(idle)}"
            yield view.remark(folder, item, place, "never-so", message, "take it out, or let a question or rule give it")


def never_seen(view: LintContext) -> Iterator[ItemProblem]:
    """A finding without a question is derived, read by an instrument, or answered from codes."""
    read = {finding.reads.finding for finding in view.knowledge.findings.values() if finding.reads}
    for finding in view.knowledge.findings.values():
        seen = (False, finding.id) in view.reach.possible or finding.id in read
        if not finding.question and not seen:
            message = "no question asks it, no rule derives it, no instrument reads it"
            yield view.remark("findings", finding.id, (), "never-seen", message, "add question:, or a rule that derives it")


def never_together(view: LintContext) -> Iterator[ItemProblem]:
    """What a rule asks for can be answered in one sitting: no question among it is only asked when another does not hold."""
    for rule in view.knowledge.rules.values():
        if rule.id in view.reach.fired:
            found = _excluded(view, rule.when)
            if found:
                index, name = found
                message = f"{rule.when.all[index].name} is only asked when {name} is something else"
                where = ("when", "all", index)
                yield view.remark("rules", rule.id, where, "never-together", message, "take one of the two conditions out")


REACH_CHECKS = (never_asked, never_offered, never_fires, never_so, never_seen, never_together)


def _excluded(view: LintContext, when: m.Conditions) -> tuple[int, str] | None:
    """Place of a condition whose question needs what the other conditions exclude, and the name that they quarrel about."""
    for index, condition in enumerate(when.all):
        needed = _conditions_to_ask(view, condition)
        if not can_hold(conjunction(m.Conditions(when.all), needed), view.reach.possible):
            merged = allowed_values(conjunction(m.Conditions(when.all), needed))
            return index, next(name for (_, name), left in merged.items() if not left)
    return None


def _conditions_to_ask(view: LintContext, condition: m.Condition) -> m.Conditions:
    """What must hold before the question of a condition is asked; nothing when its answer can come from elsewhere."""
    if condition.of_fact or condition.name in view.reach.told:
        return m.Conditions()
    finding = view.knowledge.findings[condition.name]
    test = view.knowledge.actions[finding.action].when if finding.action else m.Conditions()
    return m.Conditions((*finding.when.all, *test.all))


def _why_never_open(view: LintContext, item: m.Finding | m.Action) -> tuple[KeyPath, str]:
    """Where and why it is never open."""
    found = obstacle(item.when, view.reach.possible)
    if found:
        return found
    if isinstance(item, m.Finding) and item.action and item.action not in view.reach.done:
        return ("action",), f"its test {item.action} is never offered"
    return ("closed",), "it starts closed, and no rule that opens it ever fires"


def _conditions_with_places(view: LintContext) -> Iterator[tuple[str, str, KeyPath, m.Condition]]:
    """Every condition with its place."""
    items = {"findings": view.knowledge.findings, "actions": view.knowledge.actions, "rules": view.knowledge.rules}
    for folder, held in items.items():
        for name, item in held.items():
            when: m.Conditions = item.when  # type: ignore[attr-defined]
            for key, conditions in (("all", when.all), ("none", when.none)):
                for index, condition in enumerate(conditions):
                    yield folder, name, ("when", key, index), condition


T = TypeVar("T")


def unused_findings(view: LintContext) -> Iterator[ItemProblem]:
    """Each finding bears on a cause, or some condition asks for it."""
    k = view.knowledge
    used = {name for cause in k.causes.values() for name in cause.shows}
    used |= {condition.name for condition in _all_conditions(k) if not condition.of_fact}
    for finding in k.findings.values():
        read = finding.reads.finding if finding.reads else ""
        if finding.id not in used and read not in used and not (read and _reads_informative_finding(view, read)):
            message = "no cause names it, no rule and no when asks for it: its answer changes nothing"
            yield view.remark("findings", finding.id, (), "unused-finding", message, "name it in a cause's shows, or delete it")


def unused_hazards(view: LintContext) -> Iterator[ItemProblem]:
    """Each hazard is named by a step or raised by a rule."""
    k = view.knowledge
    named = {name for hazards in _of_each_item(k, lambda item: item.hazards) for name in hazards}
    named |= {says.target for rule in k.rules.values() for says in rule.then if says.verb is m.Effect.CAUTION}
    named |= {name for names in k.base.roles.hazards.values() for name in names}
    for name in k.hazards.keys() - named:
        message = "no finding, action or cause names it, and no rule raises it"
        yield view.remark("hazards", name, (), "unused-hazard", message, "name it where it threatens, or delete it")


def unused_tools(view: LintContext) -> Iterator[ItemProblem]:
    """Each tool is needed somewhere."""
    k = view.knowledge
    needed = {need for finding in k.findings.values() for need in finding.needs}
    needed |= {need for action in k.actions.values() for need in action.needs}
    for name in k.base.tools.keys() - needed - set(k.base.roles.tools.values()):
        message = f"no finding or action needs the tool {name}"
        yield view.remark("", "", ("tools", name), "unused-tool", message, "name it under needs:, or delete it")


def unused_parts(view: LintContext) -> Iterator[ItemProblem]:
    """Each part is the part of something."""
    k = view.knowledge
    named = set(_of_each_item(k, lambda item: item.part))
    for name in k.base.parts.keys() - named:
        yield view.remark("", "", ("parts", name), "unused-part", f"nothing belongs to the part {name}", "delete it")


def code_twice(view: LintContext) -> Iterator[ItemProblem]:
    """In a code table each code stands once for each kind, so that no row hides another."""
    for table in view.knowledge.codes.values():
        first: dict[tuple[str, str], int] = {}
        for index, code in enumerate(table.codes):
            key = (code.code.casefold(), code.kind)
            if key in first and _same_reading(table.codes[first[key]], code):
                message = f"code {code.code!r} stands twice with the same kind and meaning"
                yield view.remark("codes", table.id, ("codes", index, "code"), "code-twice", message, "keep one of them")
            first.setdefault(key, index)


UNUSED_CHECKS = (unused_findings, unused_hazards, unused_tools, unused_parts, code_twice)


def _of_each_item(k: m.Knowledge, of: Callable[[m.Finding | m.Action | m.Cause], T]) -> Iterator[T]:
    """Something of every finding, action and cause."""
    yield from map(of, k.findings.values())
    yield from map(of, k.actions.values())
    yield from map(of, k.causes.values())


def _all_conditions(k: m.Knowledge) -> Iterator[m.Condition]:
    for when in (
        *(finding.when for finding in k.findings.values()),
        *(action.when for action in k.actions.values()),
        *(rule.when for rule in k.rules.values()),
    ):
        yield from when


def _reads_informative_finding(view: LintContext, name: str) -> bool:
    return name in view.belief.informative_findings


def _same_reading(one: m.Code, other: m.Code) -> bool:
    keys = ("phase", "stage", "meaning", "symbol", "status")
    return all(getattr(one, key) == getattr(other, key) for key in keys)
