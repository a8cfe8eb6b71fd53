"""Where a plan begins, taken from the table of the running machine. Boards and CPUs are invented."""

from __future__ import annotations

import pytest

from firmware import dumps
from nopost.errors import RecordError
from nopost.firmware.verify.machine import machine_of
from nopost.firmware.verify.recognise import PlanStart, StatedParts, plan_start
from nopost.firmware.verify.smbios_dump import read_dump
from nopost.knowledge.model import Knowledge


def present(knowledge: Knowledge, table: bytes, given: StatedParts | None = None) -> PlanStart:
    """What these bytes and this person settle."""
    return plan_start(knowledge, machine_of(read_dump(table)), given or StatedParts())


def test_all_from_the_table(knowledge: Knowledge) -> None:
    """Board, release and CPU by their names, and what was taken is told."""
    found = present(knowledge, dumps.table(version="TBH-M2 0.98"))
    assert (found.board.id, found.firmware, found.cpu) == ("tb-harbour-m2", "0.98", knowledge.cpus["kelp-450"])
    assert found.notes == ("From the table: board TB-Harbour M2 rev 1.1, release 0.98, CPU Kelp 450.",)
    empty = present(knowledge, dumps.table(processor=dumps.cpu(Status=0)))
    assert empty.cpu is None
    assert "an empty CPU socket" in empty.notes[0]


def test_by_hand_comes_first(knowledge: Knowledge) -> None:
    """What a person gives is not taken from the table, and a board that contradicts it is told."""
    given = StatedParts(knowledge.boards["tb-slipway-a1"], "A1", knowledge.cpus["dulse-20"])
    found = present(knowledge, dumps.table(), given)
    assert (found.board, found.firmware, found.cpu) == (given.board, "A1", given.cpu)
    assert len(found.notes) == 1
    assert "the record is of" in found.notes[0]
    assert present(knowledge, dumps.table(), StatedParts(empty=True)).cpu is None


@pytest.mark.parametrize(
    ("table", "given", "told"),
    [
        (
            dumps.table(product="Other"),
            StatedParts(),
            "the board (called Other 1.1, which no record fits): give its record with --board",
        ),
        (dumps.table(product="TB-Harbour M2W"), StatedParts(), "give its record with --board"),
        (dumps.table(product="Default string"), StatedParts(), "the board (it tells no name)"),
        (
            dumps.table(version="0.99"),
            StatedParts(),
            "the release (called 0.99, which the record of TB-Harbour M2 rev 1.1 does not",
        ),
        (dumps.table(version="unknown"), StatedParts(), "the release (it tells no version): give it with --firmware"),
        (
            dumps.table(processor=dumps.cpu(ProcessorVersion="Kelp 9")),
            StatedParts(),
            "the fitted CPU (called Kelp 9, which no record",
        ),
        (dumps.table(processor=dumps.cpu(ProcessorVersion="")), StatedParts(firmware="0.98"), "give its record with --fitted"),
    ],
)
def test_not_settled(knowledge: Knowledge, table: bytes, given: StatedParts, told: str) -> None:
    """One line says what to give by hand."""
    with pytest.raises(RecordError) as raised:
        present(knowledge, table, given)
    assert told in str(raised.value)
    assert "\n" not in str(raised.value)
