"""Board records that contradict themselves, and cases that contradict their board: slots and releases that they do not have."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from typing import NamedTuple

from nopost.knowledge import model as m
from nopost.knowledge.build import KINDS
from nopost.knowledge.problem import UNKNOWN_NAME, Problem, ProblemCode, nearest_hint
from nopost.knowledge.yaml_reader import Document, KeyPath


class RecordFault(NamedTuple):
    """What is wrong at one place of a record."""

    where: KeyPath
    code: ProblemCode
    message: str
    hint: str


SLOT_COUNT = ProblemCode(
    "slot-count",
    "A slot order with too few or too many slots",
    "Each module needs one slot.",
    "Name one slot for each module.",
)
RELEASE_TWICE = ProblemCode(
    "release-twice",
    "A firmware release that stands twice",
    "A release is known by its version.",
    "Name each once.",
)
NO_SUCH_DAY = ProblemCode(
    "no-such-day",
    "A date that no calendar has",
    "Releases are dated by the day.",
    "Write the day as 2031-05-17.",
)


def case_faults(case: m.Case, board: m.Board) -> Iterator[RecordFault]:
    """What a case says of its board that the board's record does not have."""
    if version := case.records.get("firmware"):
        yield from _unknown(("records", "firmware"), "release", version, (release.version for release in board.releases))
    for index, slot in enumerate(case.records.get("slots", ())):
        yield from _unknown(("records", "slots", index), "slot", slot, board.slots)


def board_faults(board: m.Board) -> Iterator[RecordFault]:
    """What is wrong within one record."""
    yield from _slot_faults(board)
    yield from _release_faults(board)


def board_problems(document: Document) -> list[Problem]:
    """What keeps a document from being a board record, with its lines: first what breaks the schema, then what contradicts
    itself; empty for a good record."""
    from nopost.knowledge.schema import schema_problems  # only here: jsonschema costs start-up time

    kind = KINDS["boards"]
    if problems := schema_problems(document, kind.schema):
        return problems
    return [
        fault.code.at(document.path, document.line(fault.where), fault.message, fault.hint)
        for fault in board_faults(kind.build(document.data))
    ]


def _slot_faults(board: m.Board) -> Iterator[RecordFault]:
    for count, slots in board.slot_order.items():
        where = ("memory", "order", str(count))
        for index, slot in enumerate(slots):
            yield from _unknown((*where, index), "slot", slot, board.slots)
        if len(slots) != count:
            yield RecordFault(where, SLOT_COUNT, f"{len(slots)} slots for a count of {count}", "name one slot for each module")


def _release_faults(board: m.Board) -> Iterator[RecordFault]:
    earlier: list[str] = []
    known = set(board.first_families)
    for index, release in enumerate(board.releases):
        where = ("firmware", "releases", index)
        if release.version in earlier:
            yield RecordFault((*where, "version"), RELEASE_TWICE, f"release {release.version!r} stands twice", "name each once")
        if not _is_day(release.date):
            yield RecordFault((*where, "date"), NO_SUCH_DAY, f"there is no day {release.date!r}", "write it as 2031-05-17")
        for name in ("requires", "accepts_from"):
            if wanted := getattr(release, name):
                yield from _unknown((*where, name), "earlier release", wanted, earlier)
        for number, family in enumerate(release.drops):
            yield from _unknown((*where, "drops", number), "known family", family, known)
        known = (known | set(release.adds)) - set(release.drops)
        earlier.append(release.version)


def _is_day(text: str) -> bool:
    try:
        return bool(date.fromisoformat(text))
    except ValueError:
        return False


def _unknown(where: KeyPath, what: str, name: str, known: Iterable[str]) -> Iterator[RecordFault]:
    names = sorted(known)
    if name not in names:
        hint = nearest_hint(name, names, f"here: {', '.join(names)}" if names else "there is none before this")
        yield RecordFault(where, UNKNOWN_NAME, f"there is no {what} {name!r}", hint)
