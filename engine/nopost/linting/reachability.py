"""The logic of `when`, and what can ever happen.

A finding or fact has one value at a time, or none. So conditions are sets of values, name by name, and what can hold, what
follows from what, and what can hold together is answered exactly by comparing sets, given which values each name can have.

What can ever happen is a least fixpoint over questions, tests and rules, each of which may wait for another. It begins with
nothing but what records and codes say. A question whose `when` can hold adds its answers, a rule that can fire adds what it
derives and opens, and so on until nothing is added. What is left out can never happen, rings included.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from nopost.knowledge import model as m
from nopost.knowledge.effects import EFFECTS, Effect
from nopost.knowledge.model import Condition, Conditions
from nopost.knowledge.roles import FROM_CODES
from nopost.knowledge.yaml_reader import KeyPath

Name = tuple[bool, str]
"""Whether it is a fact of the records, and its id."""
Values = frozenset[str]
NOTHING: Values = frozenset()


def allowed_values(when: Conditions) -> dict[Name, Values]:
    """Each name of `all` with the values that satisfy it, those that `none` forbids taken out."""
    found: dict[Name, Values] = {}
    for condition in when.all:
        name, values = _name_and_values(condition)
        found[name] = found[name] & values if name in found else values
    banned = forbidden_values(when)
    return {name: values - banned.get(name, NOTHING) for name, values in found.items()}


def forbidden_values(when: Conditions) -> dict[Name, Values]:
    """Each name of `none` with its values."""
    found: dict[Name, Values] = {}
    for condition in when.none:
        name, values = _name_and_values(condition)
        found[name] = found.get(name, NOTHING) | values
    return found


def conjunction(one: Conditions, other: Conditions) -> Conditions:
    """What holds when both hold."""
    return Conditions((*one.all, *other.all), (*one.none, *other.none))


def can_hold(when: Conditions, possible: Mapping[Name, Values]) -> bool:
    """Whether some answers satisfy it."""
    return all(values & possible.get(name, NOTHING) for name, values in allowed_values(when).items())


def follows(weaker: Conditions, stronger: Conditions) -> bool:
    """Whether the weaker holds whenever the stronger does."""
    has, banned = allowed_values(stronger), forbidden_values(stronger)
    if not all(name in has and has[name] <= values for name, values in required_values(weaker).items()):
        return False
    for name, values in forbidden_values(weaker).items():
        never = (name in has and not has[name] & values) or values <= banned.get(name, NOTHING)
        if not never:
            return False
    return True


def required_values(when: Conditions) -> dict[Name, Values]:
    """Each name of `all` with its values, whatever `none` says."""
    return allowed_values(Conditions(when.all))


def obstacle(when: Conditions, possible: Mapping[Name, Values]) -> tuple[KeyPath, str] | None:
    """Why it can never hold, with the place; None when it can."""
    satisfied = allowed_values(when)
    for index, condition in enumerate(when.all):
        name, values = _name_and_values(condition)
        if not values & possible.get(name, NOTHING):
            return ("when", "all", index), f"nothing ever makes {condition.name} {' or '.join(condition.values)}"
        if not satisfied[name]:
            return ("when", "all", index), f"the conditions on {condition.name} exclude each other"
        if not satisfied[name] & possible[name]:
            return ("when", "all", index), f"what is left of {condition.name} never happens"
    return None


def _name_and_values(condition: Condition) -> tuple[Name, Values]:
    return (condition.of_fact, condition.name), frozenset(condition.values)


@dataclass(slots=True)
class Reach:
    """`possible`: the values that each name can have; the others are ids of what can ever be asked, done, fired, opened,
    and answered without being asked (`told`)."""

    possible: dict[Name, Values] = field(default_factory=dict)
    asked: set[str] = field(default_factory=set)
    done: set[str] = field(default_factory=set)
    fired: set[str] = field(default_factory=set)
    opened: set[tuple[str, str]] = field(default_factory=set)
    told: set[str] = field(default_factory=set)

    def add(self, finding: str, values: Values) -> None:
        """More values that a finding can have."""
        self.possible[False, finding] = self.possible.get((False, finding), frozenset()) | values

    def open(self, what: str, item: m.Finding | m.Action) -> bool:
        """Whether it can be open: its `when` can hold, and it starts open or some rule opens it."""
        return (not item.closed or (what, item.id) in self.opened) and can_hold(item.when, self.possible)


def reach_of(knowledge: m.Knowledge) -> Reach:
    """The least fixpoint."""
    reach = Reach({(True, fact): frozenset(values) for fact, values in knowledge.base.facts.items()})
    for role in FROM_CODES:
        if answered := knowledge.base.roles.findings.get(role):
            reach.add(answered.finding, frozenset(answered.answers.values()))
            reach.told.add(answered.finding)
    while _grow(reach, knowledge):
        pass
    return reach


def _grow(reach: Reach, knowledge: m.Knowledge) -> bool:
    """One round; whether anything was added."""
    before = (len(reach.asked), len(reach.done), len(reach.fired))
    for action in knowledge.actions.values():
        if action.id not in reach.done and reach.open("action", action):
            reach.done.add(action.id)
    for finding in knowledge.findings.values():
        if finding.id not in reach.asked and _can_be_asked(reach, finding):
            reach.asked.add(finding.id)
            reach.add(finding.id, _can_be_said(finding))
    for rule in knowledge.rules.values():
        if rule.id not in reach.fired and can_hold(rule.when, reach.possible):
            reach.fired.add(rule.id)
            _fire(reach, rule)
    return before != (len(reach.asked), len(reach.done), len(reach.fired))


def _can_be_asked(reach: Reach, finding: m.Finding) -> bool:
    return bool(finding.question) and (not finding.action or finding.action in reach.done) and reach.open("finding", finding)


def _can_be_said(finding: m.Finding) -> Values:
    """Its answers, "can't tell", and "not there" where that is offered."""
    return frozenset((*finding.answer_ids, m.UNKNOWN, *((m.ABSENT,) if finding.absent else ())))


def _fire(reach: Reach, rule: m.Rule) -> None:
    for consequence in rule.then:
        traits = EFFECTS[consequence.effect]
        if consequence.effect is Effect.DERIVE:
            reach.add(consequence.target, frozenset((consequence.answer,)))
            reach.told.add(consequence.target)
        elif traits.opens:
            reach.opened.add((traits.target, consequence.target))
