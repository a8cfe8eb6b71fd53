"""What can ever happen: a least fixpoint over questions, tests and rules, each of which may wait for another.

It begins with nothing but what records and codes say. A question whose `when` can hold adds its answers, a rule that can
fire adds what it derives and opens, and so on until nothing is added. What is left out can never happen, rings included.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from nopost.knowledge import model as m
from nopost.knowledge.facts import FACTS
from nopost.review.conditions import Name, Values, can_hold

FROM_CODES = ("trace-stage", "boot-outcome", "error-code")
"""Findings that `nopost.codes.observe` answers from pasted codes; they need no question."""


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
    reach = Reach({(True, fact): frozenset(values) for fact, values in FACTS.items()})
    for name in FROM_CODES:
        if name in knowledge.findings:
            reach.add(name, frozenset(knowledge.findings[name].answer_ids))
            reach.told.add(name)
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
        match consequence.verb:
            case m.Verb.DERIVE:
                reach.add(consequence.target, frozenset((consequence.answer,)))
                reach.told.add(consequence.target)
            case m.Verb.OPEN_QUESTION | m.Verb.ASK_FIRST:
                reach.opened.add(("finding", consequence.target))
            case m.Verb.OPEN_ACTION | m.Verb.DO_FIRST:
                reach.opened.add(("action", consequence.target))
