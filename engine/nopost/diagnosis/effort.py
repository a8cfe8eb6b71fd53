"""What a step costs this person: minutes times their rate, plus money, plus risk, plus getting what they lack."""

from __future__ import annotations

from dataclasses import dataclass

from nopost.knowledge.model import Action, Effort, Finding, Knowledge

LEAST_COST = 0.01
"""No step is free: below this the ratio rule would divide by nothing."""


@dataclass(frozen=True, slots=True)
class Person:
    """Who is at the machine: what a minute is worth to them (None: as the knowledge base says) and what they have at hand."""

    minute_rate: float | None = None
    at_hand: frozenset[str] = frozenset()


def rate(knowledge: Knowledge, person: Person) -> float:
    """Money per minute."""
    return knowledge.base.minute_rate if person.minute_rate is None else person.minute_rate


def action_effort(knowledge: Knowledge, action: Action, person: Person) -> Effort:
    """Effort of an action, with getting the tools that are not at hand."""
    return _with_tools(knowledge, action.effort, action.needs, person)


def finding_effort(knowledge: Knowledge, finding: Finding, person: Person) -> Effort:
    """Effort of seeing a finding, with its tools, and with its test when it has one."""
    own = _with_tools(knowledge, finding.effort, finding.needs, person)
    return own + action_effort(knowledge, knowledge.actions[finding.action], person) if finding.action else own


def _with_tools(knowledge: Knowledge, effort: Effort, needs: tuple[str, ...], person: Person) -> Effort:
    for need in needs:
        if need not in person.at_hand:
            effort = effort + knowledge.base.tools[need].effort
    return effort


def cost(knowledge: Knowledge, effort: Effort, person: Person) -> float:
    """An effort in money, never nothing."""
    return max(effort.cost(rate(knowledge, person)), LEAST_COST)
