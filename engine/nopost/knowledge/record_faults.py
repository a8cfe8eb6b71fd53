"""Board records that contradict themselves, and cases that contradict their board: slots and releases that they do not have."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from datetime import date
from typing import NamedTuple

from nopost.knowledge import model as m
from nopost.knowledge.build import KINDS
from nopost.knowledge.problem import Problem
from nopost.knowledge.source_files import PartialKnowledge
from nopost.knowledge.yaml_reader import Document, KeyPath


class RecordFault(NamedTuple):
    """What is wrong at one place of a record."""

    where: KeyPath
    code: str
    message: str
    hint: str


def board_records(context: PartialKnowledge) -> Iterator[Problem]:
    """Each board's slots and releases are named rightly within its record."""
    for board in context.boards.values():
        for fault in board_faults(board):
            yield context.problem("boards", board.id, *fault)


def case_records(context: PartialKnowledge) -> Iterator[Problem]:
    """A case's release and slots are those of its board."""
    for case in context.cases.values():
        board = context.boards.get(case.records.get("board", ""))
        if board is not None:
            for fault in _case_faults(case, board):
                yield context.problem("cases", case.id, *fault)


RECORD_CHECKS = (board_records, case_records)


def _case_faults(case: m.Case, board: m.Board) -> Iterator[RecordFault]:
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
        Problem(document.path, document.line(fault.where), fault.code, fault.message, fault.hint)
        for fault in board_faults(kind.build(document.data))
    ]


def _slot_faults(board: m.Board) -> Iterator[RecordFault]:
    for count, slots in board.slot_order.items():
        where = ("memory", "order", str(count))
        for index, slot in enumerate(slots):
            yield from _unknown((*where, index), "slot", slot, board.slots)
        if len(slots) != count:
            yield RecordFault(where, "slot-count", f"{len(slots)} slots for a count of {count}", "name one slot for each module")


def _release_faults(board: m.Board) -> Iterator[RecordFault]:
    earlier: list[str] = []
    known = set(board.first_families)
    for index, release in enumerate(board.releases):
        where = ("firmware", "releases", index)
        if release.version in earlier:
            yield RecordFault((*where, "version"), "release-twice", f"release {release.version!r} stands twice", "name each once")
        if not _is_day(release.date):
            yield RecordFault((*where, "date"), "no-such-day", f"there is no day {release.date!r}", "write it as 2031-05-17")
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
        close = difflib.get_close_matches(name, names, n=1, cutoff=0.5)
        hint = f"did you mean {close[0]}?" if close else f"here: {', '.join(names)}" if names else "there is none before this"
        yield RecordFault(where, "unknown-name", f"there is no {what} {name!r}", hint)
