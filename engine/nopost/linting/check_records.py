"""Board records that contradict themselves, and cases that contradict their board: slots and releases that they do not have."""

from __future__ import annotations

from collections.abc import Iterator

from nopost.knowledge.problem import UNKNOWN_NAME, Problem
from nopost.knowledge.record_faults import NO_SUCH_DAY, RELEASE_TWICE, SLOT_COUNT, RecordFault, board_faults, case_faults
from nopost.linting.lint_check import Check, Stage


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


CHECKS = (SlotCount, ReleaseTwice, NoSuchDay, UnknownRecordName)
