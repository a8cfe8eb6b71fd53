"""Limits of meters, and records of boards and cases: what a schema cannot see of them."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence

from nopost.knowledge import model as m
from nopost.knowledge.problem import UNKNOWN_ANSWER, UNKNOWN_NAME, Problem, ProblemCode, nearest_hint
from nopost.knowledge.record_faults import NO_SUCH_DAY, RELEASE_TWICE, SLOT_COUNT, RecordFault, board_faults, case_faults
from nopost.knowledge.source_files import PartialKnowledge
from nopost.knowledge.yaml_reader import KeyPath
from nopost.linting.lint_check import Check, Stage

NO_VOLTAGE = ("ground", "none")
"""What a contact carries that no limit is for."""
Misorder = tuple[KeyPath, str]


class LimitOrder(Check):
    """Minimum below nominal below maximum, low level below high level, bands falling."""

    code = ProblemCode(
        "limit-order",
        "Limits in the wrong order",
        "Nothing could ever lie within them.",
        "Minimum, nominal, maximum; low level before high level; bands from the highest down.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for limits in self.items.limits.values():
            for where, message in (*_rails(limits), *_signals(limits), *_times(limits), *_bands(limits)):
                yield self.problem("limits", limits.id, where, message, "put them in order")


class LimitTwice(Check):
    """Within one file each name, other names included, and each contact stands once."""

    code = ProblemCode(
        "limit-twice",
        "A rail, signal or contact that stands twice",
        "A reading must have one limit.",
        "Keep one of them.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for limits in self.items.limits.values():
            seen: set[str] = set()
            for where, name, spelled in _names(limits):
                twice = [text for text in spelled if plain_name(text) in seen]
                seen |= {plain_name(text) for text in spelled}
                if twice:
                    message = f"{name} or another name of it ({twice[0]}) stands twice"
                    yield self.problem("limits", limits.id, where, message, "keep one of them")


class UnknownLimitName(Check):
    """What a contact or a time names is a rail or a signal of some file; a cell's bands answer a finding."""

    code = UNKNOWN_NAME
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        known = _known(self.items)
        findings = self.items.names("findings")
        for limits in self.items.limits.values():
            for where, name in _named(limits) if known is not None else ():
                if known is not None and name not in known:
                    yield self.problem(
                        "limits", limits.id, where, f"there is no rail or signal {name!r}", nearest_hint(name, known)
                    )
            if limits.cell and findings is not None and limits.cell.finding not in findings:
                name = limits.cell.finding
                message = f"there is no finding {name!r}"
                yield self.problem("limits", limits.id, ("cell", "finding"), message, nearest_hint(name, findings))


class UnknownBandAnswer(Check):
    """Each band of a coin cell's voltage gives an answer of the cell's finding."""

    code = UNKNOWN_ANSWER
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for limits in self.items.limits.values():
            finding = self.items.findings.get(limits.cell.finding) if limits.cell else None
            if limits.cell and finding and not finding.answers_clash:
                for index, band in enumerate(limits.cell.bands):
                    if band.answer not in finding.answer_ids:
                        message, where = f"{finding.id} has no answer {band.answer!r}", ("cell", "bands", index, "answer")
                        yield self.problem("limits", limits.id, where, message, nearest_hint(band.answer, finding.answer_ids))


CHECKS = (LimitOrder, LimitTwice, UnknownLimitName, UnknownBandAnswer)


def plain_name(name: str) -> str:
    """A name without what people write differently: case, blanks, the plus sign, hash and underscore."""
    return re.sub(r"[\s+#_]", "", name).casefold()


def _rails(limits: m.Limits) -> Iterator[Misorder]:
    for index, rail in enumerate(limits.rails):
        if not rail.low < rail.nominal < rail.high:
            yield ("rails", index), f"{rail.name}: not min {rail.low:g} < nominal {rail.nominal:g} < max {rail.high:g}"


def _signals(limits: m.Limits) -> Iterator[Misorder]:
    for index, signal in enumerate(limits.signals):
        bounds = (*signal.low, *signal.high)
        if not bounds[0] < bounds[1] < bounds[2] < bounds[3]:
            told = " < ".join(f"{bound:g}" for bound in bounds)
            yield ("signals", index), f"{signal.name}: not low before high: {told}"


def _times(limits: m.Limits) -> Iterator[Misorder]:
    for index, time in enumerate(limits.times):
        if time.low is not None and time.high is not None and time.low >= time.high:
            yield ("times", index), f"{time.name}: not min {time.low:g} < max {time.high:g}"


def _bands(limits: m.Limits) -> Iterator[Misorder]:
    if limits.cell:
        starts = [band.low for band in limits.cell.bands]
        for index, (one, next_one) in enumerate(itertools.pairwise((limits.cell.highest, *starts))):
            if next_one >= one:
                yield ("cell", "bands", index), f"from {next_one:g}: the bands do not fall from the highest down"


def _names(limits: m.Limits) -> Iterator[tuple[KeyPath, str, tuple[str, ...]]]:
    named: tuple[tuple[str, Sequence[m.Rail | m.Signal | m.Time]], ...] = (
        ("rails", limits.rails),
        ("signals", limits.signals),
        ("times", limits.times),
    )
    for key, entries in named:
        for index, entry in enumerate(entries):
            yield (key, index), entry.name, (entry.name, *entry.also)
    if limits.cell:
        yield ("cell", "name"), limits.cell.name, (limits.cell.name, *limits.cell.also)
    for index, pin in enumerate(limits.pins):
        yield ("pins", index), f"contact {pin.pin} of {pin.plug}", (f"{pin.plug} {pin.pin}",)


def _known(items: PartialKnowledge) -> set[str] | None:
    """Rails and signals of all files; None when one of the files is broken."""
    if items.names("limits") != frozenset(items.limits):
        return None
    rails = {rail.name for limits in items.limits.values() for rail in limits.rails}
    return rails | {signal.name for limits in items.limits.values() for signal in limits.signals}


def _named(limits: m.Limits) -> Iterator[tuple[KeyPath, str]]:
    for index, pin in enumerate(limits.pins):
        if pin.carries not in NO_VOLTAGE:
            yield ("pins", index, "carries"), pin.carries
    for index, time in enumerate(limits.times):
        yield from ((("times", index, "of", place), name) for place, name in enumerate(time.of))


class RecordCheck(Check):
    """The faults of one code in the board records and cases."""

    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for folder, item, fault in self._faults():
            if fault.code == self.code:
                yield self.problem(folder, item, fault.where, fault.message, fault.hint)

    def _faults(self) -> Iterator[tuple[str, str, RecordFault]]:
        for board in self.items.boards.values():
            yield from (("boards", board.id, fault) for fault in board_faults(board))
        for case in self.items.cases.values():
            board_of_case = self.items.boards.get(case.records.get("board", ""))
            if board_of_case is not None:
                yield from (("cases", case.id, fault) for fault in case_faults(case, board_of_case))


class SlotCount(RecordCheck):
    """An order of slots names one slot for each module."""

    code = SLOT_COUNT


class ReleaseTwice(RecordCheck):
    """A firmware release stands once in its board's record."""

    code = RELEASE_TWICE


class NoSuchDay(RecordCheck):
    """A release has a date that the calendar has."""

    code = NO_SUCH_DAY


class UnknownRecordName(RecordCheck):
    """Slots, releases and CPU families are named that the board has."""

    code = UNKNOWN_NAME


RECORD_CHECKS = (SlotCount, ReleaseTwice, NoSuchDay, UnknownRecordName)
