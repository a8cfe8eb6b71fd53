"""Replay: what a history amounts to as observations. Sessions, case files, simulations and exercises all go through here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from nopost.diagnosis.belief.evidence import Report
from nopost.diagnosis.history import Event, EventKind, History
from nopost.diagnosis.observations import Observations
from nopost.diagnosis.parts_facts import facts_of
from nopost.errors import NopostError
from nopost.knowledge.model import Knowledge


def replay(history: History, knowledge: Knowledge) -> Observations:
    """The observations that a history comes to for a knowledge base. Pure; what this base does not know must not be in it."""
    course = _Replay(knowledge)
    for event in history.events:
        course.take(event)
    return Observations(
        reports=tuple(course.reports),
        tried=tuple(course.tried),
        stale=frozenset(course.stale),
        outdated=frozenset(course.outdated),
        skipped=frozenset(course.skipped),
        facts=facts_of(history.parts, knowledge).facts,
        unchanged=frozenset(course.unchanged),
    )


@dataclass
class _Replay:
    """The state of a replay, event by event. Its fields are those of `Observations`."""

    knowledge: Knowledge
    reports: list[Report] = field(default_factory=list)
    tried: list[str] = field(default_factory=list)
    stale: set[str] = field(default_factory=set)
    outdated: set[str] = field(default_factory=set)
    skipped: set[str] = field(default_factory=set)
    unchanged: set[int] = field(default_factory=set)

    def take(self, event: Event) -> None:
        """One event more."""
        if event.kind is EventKind.SKIPPED:
            self.skipped.add(event.item)
        elif event.kind is EventKind.TRIED:
            if event.value != "starts":
                self._failed(event)
        else:
            for finding, answer in event_answers(event, self.knowledge).items():
                self.reports.append(Report(finding, answer, len(self.tried)))
                self.stale.discard(finding)
                self.outdated.discard(finding)

    def _failed(self, event: Event) -> None:
        """A fix left the machine dead. What having done it in vain tells goes before what was said of it earlier."""
        action = self.knowledge.actions[event.item]
        self.tried.append(event.item)
        epoch = len(self.tried)
        self.reports = [r for r in self.reports if r.finding not in action.tells]
        self.reports += [Report(finding, answer, epoch) for finding, answer in action.tells.items()]
        touched = set(action.after) & {report.finding for report in self.reports}
        self.outdated |= {finding for finding in touched if self._may_be_put_right(event.item, finding)}
        if event.value == "changed":
            self.stale |= touched
        else:
            self.unchanged.add(epoch)

    def _may_be_put_right(self, action: str, finding: str) -> bool:
        """Whether a fix may itself have changed what was seen: how a part sits, not what the machine does."""
        item = self.knowledge.findings[finding]
        of_the_part = not item.powered or item.part == self.knowledge.actions[action].part
        return of_the_part and finding not in self.knowledge.base.opening


def event_answers(event: Event, knowledge: Knowledge) -> Mapping[str, str]:
    """Finding -> answer, as one event tells it: itself, or what its codes or readings say under today's tables and limits."""
    match event.kind:
        case EventKind.ANSWER:
            return {event.item: event.value}
        case EventKind.CODES:
            return code_answers(knowledge, event.text, event.item)
        case EventKind.READINGS:
            return reading_answers(knowledge, event.text, event.item, alone=event.value == "alone")
        case _:
            return {}


def code_answers(knowledge: Knowledge, text: str, table: str = "") -> Mapping[str, str]:
    """What pasted codes, lamps or beeps answer, read with a table of the knowledge base ("": the one that fits best).

    Nothing when they say too little, or when the table is not known any more.
    """
    return _code_answers(Edition.of(knowledge), text, table)


def reading_answers(knowledge: Knowledge, text: str, guide: str = "", *, alone: bool = False) -> Mapping[str, str]:
    """What readings of a meter answer by a guide ("": all of them); nothing when they cannot be read.

    `alone`: the supply was tested off the board.
    """
    return _reading_answers(Edition.of(knowledge), text, guide, alone)


@dataclass(frozen=True)
class Edition:
    """A knowledge base as a key of what was computed for it: equal when the files are; one made in memory equals no other."""

    key: object
    knowledge: Knowledge = field(compare=False)

    @classmethod
    def of(cls, knowledge: Knowledge) -> Edition:
        """The key of this knowledge base."""
        return cls(knowledge.digest or object(), knowledge)


@lru_cache(maxsize=256)  # a replay meets the same texts again at every step
def _code_answers(edition: Edition, text: str, table: str) -> Mapping[str, str]:
    from nopost.codes.decode import decode, known_answers  # only here: most histories hold no codes
    from nopost.codes.tables import TableSet

    knowledge = edition.knowledge
    if table and table not in knowledge.codes:
        return {}
    tables = TableSet(knowledge.codes, knowledge.base.roles)
    return known_answers(decode(text, tables, table=table or None), knowledge.findings)


@lru_cache(maxsize=256)
def _reading_answers(edition: Edition, text: str, guide: str, alone: bool) -> Mapping[str, str]:
    from nopost.meter.interpretation import answers
    from nopost.meter.measurand_names import names_of
    from nopost.meter.parse_readings import parse_text
    from nopost.meter.reading import PowerState
    from nopost.meter.supply import make_report

    knowledge, limits = edition.knowledge, edition.knowledge.limits
    try:
        readings = parse_text(text, names_of(limits.values()))
        report = make_report(readings, limits, guide or "both", PowerState(""), alone)
    except NopostError:
        return {}
    return answers(report, knowledge.base.roles)
