"""Where the machine stands: which preparations are made, what a step needs beside its own work, and what is left after it.

A look with power on undoes what does not stay and is not needed (a machine is not started with its board out); a fix is followed
by a trial. The preparations of `base.yaml` hold undoing them, so undoing costs nothing here.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from nopost.diagnosis.history import Event, EventKind, Person, action_effort, effort_cost, finding_effort, finding_place
from nopost.knowledge.model import ABSENT, UNKNOWN, Action, Base, Cause, Effort, Knowledge


def ready_for_look(base: Base, ready: Collection[str], place: Collection[str], *, powered: bool) -> frozenset[str]:
    """What is still prepared when a look at this place begins."""
    return frozenset(name for name in ready if not powered or base.preparations[name].stays or name in place)


def ready_once_tried(base: Base, ready: Collection[str]) -> frozenset[str]:
    """What is still prepared when the machine has been tried."""
    return frozenset(name for name in ready if base.preparations[name].stays)


def missing_effort(base: Base, ready: Collection[str], place: Iterable[str]) -> Effort:
    """What it takes to prepare what a place needs and what is not ready."""
    total = Effort(0.0)
    for name in place:
        if name not in ready:
            total = total + base.preparations[name].effort
    return total


def look_effort(knowledge: Knowledge, finding: str, ready: Collection[str], person: Person) -> Effort:
    """What looking at a finding takes: the look itself, getting tools, and the preparations that are not made."""
    item = knowledge.findings[finding]
    place = finding_place(knowledge, item)
    still = ready_for_look(knowledge.base, ready, place, powered=item.powered)
    return finding_effort(knowledge, item, person) + missing_effort(knowledge.base, still, place)


def fix_effort(knowledge: Knowledge, action: str, ready: Collection[str], person: Person) -> Effort:
    """What a fix takes: its own work, getting tools, and the preparations that are not made; without trying the machine."""
    item = knowledge.actions[action]
    return action_effort(knowledge, item, person) + missing_effort(knowledge.base, ready, knowledge.base.closure(item.at))


GOOD_ENOUGH = 0.8
"""A fix with at least this share of the best fix's probability is good enough for the last resort (judgement)."""


def part_price(cause: Cause, actions: Mapping[str, Action]) -> float:
    """Money for the part that a cause turns out to need: that of its cheapest fix that is good enough."""
    enough = max(cause.fixes.values(), default=0.0) * GOOD_ENOUGH
    return min((actions[name].effort.money for name, chance in cause.fixes.items() if chance >= enough), default=0.0)


def look_cost(knowledge: Knowledge, finding: str, ready: Collection[str], person: Person) -> float:
    """What looking at a finding costs in money, with reading its screen and answering."""
    return effort_cost(knowledge, look_effort(knowledge, finding, ready, person) + knowledge.base.exchange, person)


def fix_cost(knowledge: Knowledge, action: str, ready: Collection[str], person: Person) -> float:
    """What a fix costs in money, with trying the machine."""
    return effort_cost(knowledge, fix_effort(knowledge, action, ready, person) + knowledge.base.trial, person)


def ready_after(knowledge: Knowledge, ready: frozenset[str], event: Event) -> frozenset[str]:
    """What is prepared after an event. What nobody could look at prepared nothing."""
    base = knowledge.base
    if event.kind is EventKind.ANSWER and event.value not in (UNKNOWN, ABSENT):
        item = knowledge.findings[event.item]
        place = finding_place(knowledge, item)
        return ready_for_look(base, ready, place, powered=item.powered) | place
    if event.kind is EventKind.TRIED:
        return ready_once_tried(base, ready | base.closure(knowledge.actions[event.item].at))
    return ready
