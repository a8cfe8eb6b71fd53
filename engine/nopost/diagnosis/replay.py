"""Replay: what a history amounts to as observations. Sessions, case files, simulations and exercises all go through here.

Answers that come in one go, from options or from a file, are checked here before anything is done with them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from nopost.diagnosis.belief.evidence import UNINFORMATIVE_ANSWERS, Observations, Report
from nopost.diagnosis.history import Event, EventKind, History, check_answer, check_tried
from nopost.diagnosis.inventory import facts_here, latest_answers
from nopost.diagnosis.parts_facts import facts_of
from nopost.diagnosis.workplace import ready_after
from nopost.errors import KnowledgeError, NopostError, UnknownNameError
from nopost.knowledge import build
from nopost.knowledge.model import Case, Knowledge
from nopost.knowledge.problem import Problem
from nopost.knowledge.renamed import renamed_case
from nopost.knowledge.yaml_reader import Document, read_yaml


@dataclass
class GivenAnswers:
    """Answers (finding, answer), fixes tried (action, outcome), records (as in a case file), codes as text, and second looks
    (finding, answer), each in order."""

    answers: list[tuple[str, str]] = field(default_factory=list)
    tried: list[tuple[str, str]] = field(default_factory=list)
    records: dict[str, Any] = field(default_factory=dict)
    codes: str = ""
    again: list[tuple[str, str]] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.answers or self.again or self.tried or self.codes)


def read_answers(name: str, knowledge: Knowledge) -> GivenAnswers:
    """The answers of a case of the knowledge base, or of a file: a mapping finding -> answer, or a case file (YAML or JSON).

    Raises KnowledgeError with file and line.
    """
    if name in knowledge.cases:
        case = knowledge.cases[name]
        return GivenAnswers(list(case.answers.items()), list(case.tried), dict(case.records), case.codes)
    document = _read(Path(name))
    case = renamed_case(knowledge, build.case(document.data))
    problems = [*_answer_problems(document, case, knowledge), *_tried_problems(document, case, knowledge)]
    if problems:
        raise KnowledgeError(problems)
    return GivenAnswers(list(case.answers.items()), list(case.tried), dict(case.records), case.codes)


def _read(path: Path) -> Document:
    """The file as a case, valid against the schema; a plain mapping is taken as its answers."""
    from nopost.knowledge.schema import schema_problems

    document, problems = read_yaml(path)
    if not problems and not isinstance(document.data, dict):
        hint = "write lines such as screen: no-signal"
        problems = [Problem(document.path, 1, "no-answers", "no mapping of findings to answers", hint)]
    if not problems:
        if not {"answers", "tried"} & document.data.keys():
            lines = {("answers", *where): line for where, line in document.lines.items()}
            document = Document(document.path, {"answers": document.data}, lines)
        document.data = {"id": "given", "title": "Answers that were given", "source": "given by the person", **document.data}
        problems = schema_problems(document, "case.schema.json")
    if problems:
        raise KnowledgeError(problems)
    return document


def _answer_problems(document: Document, case: Case, knowledge: Knowledge) -> Iterator[Problem]:
    for finding, answer in case.answers.items():
        try:
            check_answer(knowledge, finding, answer)
        except UnknownNameError as error:
            yield Problem(document.path, document.line(("answers", finding)), "unknown-answer", str(error))


def _tried_problems(document: Document, case: Case, knowledge: Knowledge) -> Iterator[Problem]:
    for index, (action, outcome) in enumerate(case.tried):
        try:
            check_tried(knowledge, action, outcome)
        except UnknownNameError as error:
            yield Problem(document.path, document.line(("tried", index)), "unknown-name", str(error))


def split_pairs(texts: Iterable[str], option: str, example: str = "screen=no-signal") -> list[tuple[str, str]]:
    """NAME=VALUE texts as pairs. Raises NopostError, which shows the `example`."""
    pairs = []
    for text in texts:
        name, mark, value = text.partition("=")
        if not mark or not name.strip() or not value.strip():
            raise NopostError(f"{option} {text}: write it as NAME=VALUE, such as {example}")
        pairs.append((name.strip(), value.strip()))
    return pairs


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
        facts=facts_here(knowledge, history.parts, latest_answers(course.reports), facts_of(history.parts, knowledge).facts),
        unchanged=frozenset(course.unchanged),
        ready=course.ready,
        outcomes=tuple(course.outcomes),
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
    ready: frozenset[str] = frozenset()
    outcomes: list[str] = field(default_factory=list)

    def take(self, event: Event) -> None:
        """One event more."""
        self.ready = ready_after(self.knowledge, self.ready, event)
        if event.kind is EventKind.SKIPPED:
            self.skipped.add(event.item)
        elif event.kind is EventKind.LOOKED_AGAIN:
            self._looked_again(event)
        elif event.kind is EventKind.TRIED:
            if event.value != "starts":
                self._failed(event)
        else:
            for finding, answer in event_answers(event, self.knowledge).items():
                self.reports.append(Report(finding, answer, len(self.tried)))
                self.stale.discard(finding)
                self.outdated.discard(finding)

    def _looked_again(self, event: Event) -> None:
        """A second report of the same thing; one that cannot tell leaves the first as it stands."""
        report = Report(event.item, event.value, len(self.tried), again=True)
        self.reports.append(report)
        if report.tells:
            self.stale.discard(event.item)
            self.outdated.discard(event.item)

    def _failed(self, event: Event) -> None:
        """A fix left the machine dead. What having done it in vain tells goes before what was said of it earlier."""
        action = self.knowledge.actions[event.item]
        self.tried.append(event.item)
        self.outcomes.append(event.value)
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
        case EventKind.LOOKED_AGAIN if event.value not in UNINFORMATIVE_ANSWERS:
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
    from nopost.meter.parse_readings import parse_text
    from nopost.meter.reading import PowerState, names_of
    from nopost.meter.supply import make_report

    knowledge, limits = edition.knowledge, edition.knowledge.limits
    try:
        readings = parse_text(text, names_of(limits.values()))
        report = make_report(readings, limits, guide or "both", PowerState(""), alone)
    except NopostError:
        return {}
    return answers(report, knowledge.base.roles)
