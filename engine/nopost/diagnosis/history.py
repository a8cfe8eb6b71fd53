"""A session as a value: what was answered and done, in order; and its replay into observations."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from enum import StrEnum

from nopost.diagnosis.belief.evidence import Report
from nopost.diagnosis.effort import Person
from nopost.diagnosis.observations import Observations
from nopost.errors import UnknownNameError
from nopost.knowledge.model import ABSENT, UNKNOWN, Case, Finding, Knowledge

OUTCOMES = ("starts", "same", "changed")
"""What can come of a fix: the machine starts, nothing changed, something else is seen now."""


class EventKind(StrEnum):
    """What happened."""

    ANSWER = "answer"
    TRIED = "tried"
    SKIPPED = "skipped"
    END = "end"


class End(StrEnum):
    """How a session ends."""

    STARTS = "starts"
    CAUSE_FOUND = "cause-found"
    NO_LISTED_CAUSE = "no-listed-cause"
    SHOP = "shop"


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened: to which finding, action or cause, with which answer or outcome, and when (ISO 8601, UTC)."""

    kind: EventKind
    item: str
    value: str
    at: str


@dataclass(frozen=True)
class Session:
    """One dead machine. `edition` and `digest` tell which knowledge base asked; `dropped` what a newer one no longer knows.
    `records`: board, firmware and cpu as they were named, a file by its whole path, for the plan that firmware may need; kb: the
    folder of a knowledge base of one's own."""

    name: str
    created: str
    knowledge: str
    edition: str
    digest: str
    person: Person = field(default_factory=Person)
    currency: str = ""
    facts: Mapping[str, str] = field(default_factory=dict)
    machine: Mapping[str, str] = field(default_factory=dict)
    records: Mapping[str, str] = field(default_factory=dict)
    events: tuple[Event, ...] = ()
    revision: int = 0
    dropped: tuple[str, ...] = ()

    @property
    def end(self) -> Event | None:
        """How it ended, or None while it is open."""
        return self.events[-1] if self.events and self.events[-1].kind is EventKind.END else None

    def add(self, kind: EventKind, item: str, value: str) -> Session:
        """The session with one more event; an end is taken back when it goes on."""
        events = self.events[:-1] if self.end else self.events
        return replace(self, events=(*events, Event(kind, item, value, now())))

    def undo(self) -> Session:
        """The session without its last event."""
        return replace(self, events=self.events[:-1])


def new_session(name: str, knowledge: Knowledge) -> Session:
    """An empty session."""
    return Session(name, now(), knowledge.base.name, knowledge.base.edition, knowledge.digest)


def now() -> str:
    """This moment, ISO 8601 in UTC, to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def observations(session: Session, knowledge: Knowledge) -> Observations:
    """Replay the events."""
    reports: list[Report] = []
    tried: list[str] = []
    skipped: set[str] = set()
    stale: set[str] = set()
    outdated: set[str] = set()
    unchanged: set[int] = set()
    for event in session.events:
        if event.kind is EventKind.ANSWER:
            reports.append(Report(event.item, event.value, len(tried)))
            stale.discard(event.item)
            outdated.discard(event.item)
        elif event.kind is EventKind.SKIPPED:
            skipped.add(event.item)
        elif event.kind is EventKind.TRIED and event.value != "starts":
            tried.append(event.item)
            reports = _told(knowledge, event.item, reports, len(tried))
            after = set(knowledge.actions[event.item].after) & {r.finding for r in reports}
            outdated |= {finding for finding in after if _put_right(knowledge, event.item, finding)}
            if event.value == "changed":
                stale |= after
            else:
                unchanged.add(len(tried))
    gone = frozenset(stale), frozenset(outdated)
    return Observations(tuple(reports), tuple(tried), *gone, frozenset(skipped), session.facts, frozenset(unchanged))


def _told(knowledge: Knowledge, action: str, reports: list[Report], epoch: int) -> list[Report]:
    """The reports with what having done a fix in vain tells; it goes before what was said of it earlier."""
    tells = knowledge.actions[action].tells
    return [*(r for r in reports if r.finding not in tells), *(Report(f, answer, epoch) for f, answer in tells.items())]


def _put_right(knowledge: Knowledge, action: str, finding: str) -> bool:
    """Whether a fix may itself have changed what was seen: how a part sits, not what the machine does."""
    item = knowledge.findings[finding]
    of_the_part = not item.powered or item.part == knowledge.actions[action].part
    return of_the_part and finding not in knowledge.base.opening


def case_observations(case: Case, facts: Mapping[str, str], knowledge: Knowledge) -> Observations:
    """A case as observations: its answers, then what was tried before."""
    reports = [Report(finding, answer) for finding, answer in case.answers.items()]
    failed = [(action, outcome) for action, outcome in case.tried if outcome != "starts"]
    tried = tuple(action for action, _ in failed)
    for epoch, action in enumerate(tried, 1):
        reports = _told(knowledge, action, reports, epoch)
    unchanged = frozenset(epoch for epoch, (_, outcome) in enumerate(failed, 1) if outcome == "same")
    return Observations(tuple(reports), tried, facts=facts, unchanged=unchanged)


def check_answer(knowledge: Knowledge, finding: str, answer: str) -> None:
    """Raise UnknownNameError when there is no such finding or it has no such answer."""
    if finding not in knowledge.findings:
        raise UnknownNameError("finding", finding, knowledge.findings)
    known = possible_answers(knowledge.findings[finding])
    if answer not in known:
        raise UnknownNameError(f"answer to {finding}", answer, known)


def possible_answers(finding: Finding) -> tuple[str, ...]:
    """The answers that can be given, reserved ones included."""
    return (*finding.answer_ids, UNKNOWN, *((ABSENT,) if finding.absent else ()))


def check_tried(knowledge: Knowledge, action: str, outcome: str) -> None:
    """Raise UnknownNameError when there is no such fix or outcome."""
    fixes = [a.id for a in knowledge.actions.values() if a.kind == "fix"]
    if action not in fixes:
        raise UnknownNameError("fix", action, fixes)
    if outcome not in OUTCOMES:
        raise UnknownNameError("outcome", outcome, OUTCOMES)
