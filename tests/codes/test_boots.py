"""Boots: where a sequence is cut, and what each boot says. The sequences are invented; codes and their phases are those of
edk2."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from codes.boot_sequences import FULL, boot_sequence, events
from nopost.codes.boots import StartReason, boots_of
from nopost.codes.code_events import CodeEvent
from nopost.codes.tables import TableSet


def began(text: str, tables: TableSet, table: str = "edk2", at: list[float] | None = None) -> list[tuple[int, str]]:
    """Where the boots begin and why."""
    return [(first, why.value) for first, why in boot_sequence(events(text, at), tables, table).starts]


def test_one_boot(tables: TableSet) -> None:
    """A whole start is one boot, from the first code to the last."""
    assert began(FULL, tables) == [(0, "record")]


def test_falls_back_from_memory(tables: TableSet) -> None:
    """An early code after memory was reached, also when it is not the very first one."""
    assert began("10 11 1D 21 10 11 1D 21 11 1D", tables) == [(0, "record"), (4, "fell-back"), (8, "fell-back")]


def test_first_code_comes_round(tables: TableSet) -> None:
    """A loop that never gets to memory."""
    assert began("10 11 10 11 10", tables) == [(0, "record"), (2, "came-round"), (4, "came-round")]


def test_restart_code(tables: TableSet) -> None:
    """10B3 is the code of a restart on purpose (edk2-platforms PostCodeDebugFeaturePkg); the next code begins a boot."""
    assert began("1D 21 10B3 10B3 1E 21", tables) == [(0, "record"), (4, "restart-code")]


def test_long_pause(tables: TableSet) -> None:
    """The same early code after half a minute of nothing."""
    assert began("10 11 11", tables, at=[0, 0.1, 30]) == [(0, "record"), (2, "pause")]
    assert began("10 11 11", tables, at=[0, 0.1, 0.2]) == [(0, "record")]


def test_no_reset_at(tables: TableSet) -> None:
    """Error codes of an early part, CPU steps after memory, buses walked twice, memory steps that repeat."""
    for text in ("10 1D 21 56", "10 1D 21 31 32 33", "92 94 95 92 94 95", "10 1D 20 21 20 21 20 21"):
        assert began(text, tables) == [(0, "record")], text


def test_unknown_map(tables: TableSet) -> None:
    """Without a map the first code that comes again is all there is, if enough lies between."""
    assert began("C1 C3 C5 C1 C3 C5 C1", tables, "") == [(0, "record"), (3, "came-round"), (6, "came-round")]
    assert began("C1 C3 C1 C3", tables, "") == [(0, "record")]


def test_the_source_is_believed(tables: TableSet) -> None:
    """Numbered boots are not cut anew."""
    found = boot_sequence(events("10 1D 21 10 1D 10 21", boot=[1, 1, 1, 1, 1, 2, 2]), tables)
    assert found.starts == ((0, StartReason.RECORD), (5, StartReason.SAID))


def test_numbers_on_a_few(tables: TableSet) -> None:
    """Numbers on some events help, and the rest is looked for."""
    sequence = (*events("10 21", boot=[1, 2]), *events("10 21"))
    assert [first for first, _ in boot_sequence(sequence, tables).starts] == [0, 1, 2]


def test_boot_in_full(tables: TableSet) -> None:
    """Phases, furthest phase, last code, dwell, errors and regressions."""
    times = [0.0, 0.5, 1.0, 1.25, 4.0, 60.0]
    first, second = boots_of(boot_sequence(events("10 1E 1D 53 00 10", times), tables))
    assert first.phases == ("pei", "memory", "memory", "memory", "any")
    assert (first.first, first.furthest, first.last) == (0, "memory", "53")
    assert first.dwell == (0.5, 0.5, 0.25, 2.75, 56.0)
    assert first.errors == ("53",)
    assert first.regressions == (2,)
    assert (second.first, second.began, second.last) == (5, StartReason.FELL_BACK, "10")
    assert second.dwell == (None,)


def test_time_between_numbered_boots(tables: TableSet) -> None:
    """Seconds that begin anew with each boot say nothing of the time between two."""
    found = boots_of(boot_sequence(events("10 21 10", at=[0, 3, 3], boot=[1, 1, 2]), tables))
    assert found[0].dwell == (3, None)


def test_codes_of_no_table(tables: TableSet) -> None:
    """They have no phase; the last of them is named when there is nothing better."""
    (boot,) = boots_of(boot_sequence(events("C1 C3"), tables, ""))
    assert (boot.phases, boot.furthest, boot.last) == (("", ""), "", "C3")


SIGNS = st.sampled_from(
    ["00", "FF", "10", "11", "1D", "20", "21", "31", "53", "60", "92", "AD", "AF", "B3", "E3", "F2", "F9", "C7", "XX"]
)
EVENTS = st.lists(st.builds(CodeEvent, SIGNS, at=st.none() | st.floats(0, 1e6), boot=st.none() | st.integers(1, 3)), max_size=40)


@pytest.mark.slow
@given(EVENTS, st.sampled_from(["edk2", "coreboot", "generic-hex", ""]))
def test_boots_are_a_partition(tables: TableSet, sequence: list[CodeEvent], table: str) -> None:
    """Every event belongs to one boot, in order; nothing else is invented."""
    found = boots_of(boot_sequence(sequence, tables, table))
    assert [event for boot in found for event in boot.events] == sequence
    for boot in found:
        assert len(boot.phases) == len(boot.dwell) == len(boot.events) > 0
        assert boot.last in {event.code for event in boot.events}
        assert all(seconds is None or seconds >= 0 for seconds in boot.dwell)


@pytest.mark.parametrize("table", ["edk2", ""])
def test_loops_are_cut_evenly(tables: TableSet, table: str) -> None:
    """Four rounds, four boots."""
    found = boots_of(boot_sequence(events("10 11 1D 1E 21 " * 4), tables, table))
    assert [boot.first for boot in found] == [0, 5, 10, 15]
