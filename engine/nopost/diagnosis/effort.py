"""What a step costs this person: minutes at their rate, plus money, plus risk, plus getting the tools that they lack."""

from __future__ import annotations

from dataclasses import dataclass

from nopost.knowledge.model import Action, Effort, Finding, Knowledge

LEAST_COST = 0.01
"""No step costs less, in money: efficiency p/C divides by the cost."""


@dataclass(frozen=True, slots=True)
class Person:
    """Who works at the machine.

    `minute_rate`: money that a minute of theirs is worth; None: as the knowledge base says. `at_hand`: ids of the tools that they
    have.
    """

    minute_rate: float | None = None
    at_hand: frozenset[str] = frozenset()


def minute_rate(knowledge: Knowledge, person: Person) -> float:
    """Money per minute of this person."""
    return knowledge.base.minute_rate if person.minute_rate is None else person.minute_rate


def action_effort(knowledge: Knowledge, action: Action, person: Person) -> Effort:
    """Effort of an action, with getting the tools that are not at hand."""
    return _with_tools(knowledge, action.effort, action.needs, person)


def finding_effort(knowledge: Knowledge, finding: Finding, person: Person) -> Effort:
    """Effort of observing a finding, with the tools that are not at hand, and with its test when it has one."""
    own = _with_tools(knowledge, finding.effort, finding.needs, person)
    return own + action_effort(knowledge, knowledge.actions[finding.action], person) if finding.action else own


def _with_tools(knowledge: Knowledge, effort: Effort, needs: tuple[str, ...], person: Person) -> Effort:
    for need in needs:
        if need not in person.at_hand:
            effort = effort + knowledge.base.tools[need].effort
    return effort


def effort_cost(knowledge: Knowledge, effort: Effort, person: Person) -> float:
    """An effort in money, at least LEAST_COST."""
    return max(effort.cost(minute_rate(knowledge, person)), LEAST_COST)
