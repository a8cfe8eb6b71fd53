"""Any bytes and mutated tables: a value or a DumpError, never anything else, and time in line with the size."""

from __future__ import annotations

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware import dumps
from nopost.errors import DumpError
from nopost.firmware.verify.machine import Expected, machine_of
from nopost.firmware.verify.recognise import recognise_board, recognise_cpu
from nopost.firmware.verify.smbios_dump import MAX_BYTES, read_dump
from nopost.firmware.verify.smbios_structures import MOST_STRUCTURES, walk_structures
from nopost.firmware.verify.verify_machine import verify
from nopost.knowledge.model import Knowledge

TABLE = dumps.table()
WHOLE = (TABLE, dumps.entry_30(TABLE) + TABLE, dumps.entry_21(TABLE, 10) + TABLE)


def looked_at(data: bytes, knowledge: Knowledge) -> None:
    """Read and compare, as the command does."""
    try:
        dump = read_dump(data)
    except DumpError:
        return
    board = knowledge.boards["tb-harbour-m2"]
    expected = Expected(board, knowledge.cpus["kelp-450"], "0.110", ("A2", "B2"), 3600)
    machine = machine_of(dump, board.slots)
    assert all(check.text for check in verify(expected, machine))
    recognise_board(knowledge, machine)
    recognise_cpu(knowledge, machine)


@given(data=st.binary(max_size=300), start=st.sampled_from((b"", b"_SM_", b"_SM3_", b"\x11\x5c\0\0")))
def test_any_bytes(knowledge: Knowledge, data: bytes, start: bytes) -> None:
    """Whatever the file holds."""
    looked_at(start + data, knowledge)


@pytest.mark.slow
@given(
    data=st.sampled_from(WHOLE),
    changes=st.lists(st.tuples(st.integers(0, 2000), st.integers(0, 255)), max_size=12),
    cut=st.integers(0, 2000),
    more=st.binary(max_size=8),
)
def test_mutated(knowledge: Knowledge, data: bytes, changes: list[tuple[int, int]], cut: int, more: bytes) -> None:
    """Whole tables with bytes changed, cut off and put in."""
    changed = bytearray(data)
    for place, value in changes:
        changed[place % len(changed)] = value
    looked_at(bytes(changed[:cut]) + more + bytes(changed[cut:]), knowledge)
    looked_at(bytes(changed[: cut % len(changed)]), knowledge)


def seconds(data: bytes, knowledge: Knowledge) -> float:
    """The better of two tries."""
    best = 60.0
    for _ in range(2):
        begun = time.perf_counter()
        looked_at(data, knowledge)
        best = min(best, time.perf_counter() - begun)
    return best


@pytest.mark.slow
def test_time_and_number_are_bounded(knowledge: Knowledge) -> None:
    """The worst fillings of the largest file: tiny structures, one string without end, many strings, no end at all."""
    tiny = bytes((0, 4, 0, 0, 0, 0))
    for filling in (tiny, b"\x01\x1b" + b"a" * 40, b"\x01\x04\0\0" + b"a\0" * 30 + b"\0", b"\x01\x05\0\0\x01a"):
        small, large = filling * (MAX_BYTES // 16 // len(filling)), filling * (MAX_BYTES // len(filling))
        assert seconds(large, knowledge) < 40 * seconds(small, knowledge) + 1.0
    assert len(walk_structures(tiny * 100_000).structures) == MOST_STRUCTURES
