"""What is known of one machine: its parts, and what happened, in order. It is the only state; everything else follows from it.

An event keeps its source as it came: a typed answer, pasted codes with their text and table, readings of a meter, a fix with what
came of it, a step that cannot be taken, the end. `nopost.diagnosis.replay` makes observations of it.

What a step costs this person follows from it too: minutes at their rate, plus money, plus risk, plus getting the tools that they
lack.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

from nopost.errors import UnknownNameError
from nopost.knowledge.model import Action, Case, Effort, Finding, Knowledge, RenamedKind
from nopost.knowledge.renamed import current_names, what_became
from nopost.text import comma_parts

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


def second_look_effort(finding: Finding) -> Effort:
    """Effort of looking once more: tools are there by then, and no test is done again."""
    return finding.effort


def finding_place(knowledge: Knowledge, finding: Finding) -> frozenset[str]:
    """Preparations that observing a finding needs, with those of its test."""
    test = knowledge.actions[finding.action].at if finding.action else ()
    return knowledge.base.closure((*finding.at, *test))


def _with_tools(knowledge: Knowledge, effort: Effort, needs: tuple[str, ...], person: Person) -> Effort:
    for need in needs:
        if need not in person.at_hand:
            effort = effort + knowledge.base.tools[need].effort
    return effort


def effort_cost(knowledge: Knowledge, effort: Effort, person: Person) -> float:
    """An effort in money, at least LEAST_COST."""
    return max(effort.cost(minute_rate(knowledge, person)), LEAST_COST)


OUTCOMES = ("starts", "same", "changed")
"""What can come of a fix: the machine starts, nothing changed, something else is seen now."""
LONGEST_TEXT = 200_000
"""Characters of pasted codes that one event keeps; no person pastes more, and a session stays quick to write."""


class EventKind(StrEnum):
    """What happened: an answer was given, the same thing was looked at once more, codes were pasted, readings of a meter were
    told, a fix was tried, a step was skipped since it cannot be done, or it came to an end.

    An answer that is given again takes the place of the first one; a second look counts beside it.
    """

    ANSWER = "answer"
    LOOKED_AGAIN = "looked-again"
    CODES = "codes"
    READINGS = "readings"
    TRIED = "tried"
    SKIPPED = "skipped"
    END = "end"


class End(StrEnum):
    """How it ended."""

    STARTS = "starts"
    CAUSE_FOUND = "cause-found"
    NO_LISTED_CAUSE = "no-listed-cause"
    SHOP = "shop"


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened.

    `item`: the finding that was answered or looked at again, the action that was tried or skipped, the cause that it ended with,
    the code table that codes are read with ("": the one that fits best), or the guide that readings are judged by.
    `value`: the answer, the outcome of a fix, or how it ended; for readings `alone` when the supply was tested off the board.
    `at`: when, ISO 8601 in UTC. `text`: codes or readings as they were typed or pasted.
    """

    kind: EventKind
    item: str = ""
    value: str = ""
    at: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True)
class Parts:
    """What the machine is made of and what is at hand.

    `board`, `cpu`: a record by its id in the knowledge base, or by the whole path of its file. `firmware`: release on the board.
    `slots`: memory slots in use, as printed on the board; `memory_type`: type on the modules' label. `image_for`: variant that a
    written image was made for. `at_hand`: ids of tools and spares. `minute_rate`: money that a minute is worth to the person;
    None: as the knowledge base says. `there`: what was told of what is there, entry of the inventory -> choice.
    """

    board: str = ""
    cpu: str = ""
    firmware: str = ""
    slots: tuple[str, ...] = ()
    memory_type: str = ""
    image_for: str = ""
    at_hand: frozenset[str] = frozenset()
    minute_rate: float | None = None
    there: Mapping[str, str] = field(default_factory=dict, hash=False)

    @property
    def person(self) -> Person:
        """Who is at the machine, without old parts that are at hand by what is there: see `nopost.diagnosis.inventory`."""
        return Person(self.minute_rate, self.at_hand)

    def named(self) -> dict[str, str]:
        """What is known of the records, as texts; what is not known is left out. The names are those of the options, too."""
        told = {
            "board": self.board,
            "firmware": self.firmware,
            "cpu": self.cpu,
            "slots": ",".join(self.slots),
            "memory_type": self.memory_type,
            "image_for": self.image_for,
        }
        return {name: text for name, text in told.items() if text}

    @classmethod
    def of_records(cls, data: Mapping[str, Any]) -> Parts:
        """From the `records` of a case file or of a kept session; `slots` may be a list, or one text with commas."""
        slots = data.get("slots", ())
        if isinstance(slots, str):
            slots = comma_parts(slots)
        return cls(
            board=data.get("board") or "",
            cpu=data.get("cpu") or "",
            firmware=data.get("firmware") or "",
            slots=tuple(slots),
            memory_type=data.get("memory_type") or "",
            image_for=data.get("image_for") or "",
            there=dict(data.get("there", {})),
        )

    def tell(self, entry: str, choice: str) -> Parts:
        """The parts with an entry of the inventory told, or told otherwise; "" takes back what was told of it."""
        others = {name: told for name, told in self.there.items() if name != entry}
        return replace(self, there={**others, entry: choice} if choice else others)


@dataclass(frozen=True)
class History:
    """The parts and the events of one machine. A value: `add` and `undo` give another one.

    >>> import nopost
    >>> history = nopost.History(nopost.Parts(board="tb-harbour-m2", firmware="0.90"))
    >>> history = history.add(nopost.EventKind.ANSWER, "response", "runs").add(nopost.EventKind.TRIED, "reseat-memory", "same")
    >>> [event.item for event in history.undo().events]
    ['response']
    """

    parts: Parts = field(default_factory=Parts)
    events: tuple[Event, ...] = ()

    @property
    def end(self) -> Event | None:
        """How it ended, or None while it is open."""
        return self.events[-1] if self.events and self.events[-1].kind is EventKind.END else None

    def add(self, kind: EventKind, item: str = "", value: str = "", text: str = "") -> History:
        """The history with one more event, of this moment; an end is taken back when it goes on. Arguments: see `Event`."""
        return self.with_event(Event(kind, item, value, now(), text))

    def with_event(self, event: Event) -> History:
        """The history with this event behind the others; an end is taken back when it goes on."""
        events = self.events[:-1] if self.end else self.events
        return replace(self, events=(*events, event))

    def undo(self) -> History:
        """The history without its last event, whole: pasted codes go with all that they said."""
        return replace(self, events=self.events[:-1])

    def of_kind(self, *kinds: EventKind) -> tuple[Event, ...]:
        """The events of these kinds, in order."""
        return tuple(event for event in self.events if event.kind in kinds)


def case_history(case: Case) -> History:
    """A case file as a history, at no known time: its records, what had been tried before, codes, then what is seen."""
    events = [Event(EventKind.TRIED, action, outcome) for action, outcome in case.tried]
    events += [Event(EventKind.CODES, text=case.codes)] if case.codes else []
    events += [Event(EventKind.ANSWER, finding, answer) for finding, answer in case.answers.items()]
    return History(Parts.of_records(case.records), tuple(events))


def now() -> str:
    """This moment, ISO 8601 in UTC, to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def check_answer(knowledge: Knowledge, finding: str, answer: str) -> None:
    """Raise UnknownNameError when there is no such finding or it has no such answer."""
    if finding not in knowledge.findings:
        raise UnknownNameError("finding", finding, knowledge.findings)
    known = possible_answers(knowledge.findings[finding])
    if answer not in known:
        raise UnknownNameError(f"answer to {finding}", answer, known)


def possible_answers(finding: Finding) -> tuple[str, ...]:
    """The answers that can be given, reserved ones included."""
    return finding.possible_answers


def check_tried(knowledge: Knowledge, action: str, outcome: str) -> None:
    """Raise UnknownNameError when there is no such fix or outcome."""
    fixes = [a.id for a in knowledge.actions.values() if a.kind == "fix"]
    if action not in fixes:
        raise UnknownNameError("fix", action, fixes)
    if outcome not in OUTCOMES:
        raise UnknownNameError("outcome", outcome, OUTCOMES)


def check_event(knowledge: Knowledge, event: Event) -> None:
    """Raise UnknownNameError when an event names what the knowledge base does not have."""
    match event.kind:
        case EventKind.ANSWER | EventKind.LOOKED_AGAIN:
            check_answer(knowledge, event.item, event.value)
        case EventKind.TRIED:
            check_tried(knowledge, event.item, event.value)
        case EventKind.SKIPPED if event.item not in knowledge.actions:
            raise UnknownNameError("action", event.item, knowledge.actions)
        case EventKind.CODES if event.item and event.item not in knowledge.codes:
            raise UnknownNameError("code table", event.item, knowledge.codes)


def event_problem(event: Event, knowledge: Knowledge) -> str:
    """Why an event means nothing to this knowledge base, in one line; empty when it does."""
    try:
        check_event(knowledge, event)
    except UnknownNameError as error:
        return str(error)
    if event.kind is EventKind.END and event.value not in list(End):
        return f"no session ends as {event.value!r}"
    return ""


_RENAMED_KIND = {
    EventKind.ANSWER: RenamedKind.FINDING,
    EventKind.LOOKED_AGAIN: RenamedKind.FINDING,
    EventKind.TRIED: RenamedKind.ACTION,
    EventKind.SKIPPED: RenamedKind.ACTION,
    EventKind.END: RenamedKind.CAUSE,
}
"""What the item of an event names."""


def renamed_event(event: Event, knowledge: Knowledge) -> tuple[Event, str]:
    """The event in today's ids, where its old id became just one, and why it cannot be taken over ("" when it can).

    An id that was split and is one of its own parts stays: nobody can tell an old event from one of today.
    """
    kind = _RENAMED_KIND.get(event.kind)
    if kind is None or not knowledge.renamed:
        return event, ""
    answer = event.value if kind is RenamedKind.FINDING else ""
    now = current_names(knowledge, kind, event.item, answer)
    if len(now) > 1 and (event.item, answer) in now:
        return event, ""
    if len(now) != 1:
        return event, what_became(knowledge, kind, event.item, answer)
    (item, value), *_ = now
    return replace(event, item=item, value=value or event.value), ""
