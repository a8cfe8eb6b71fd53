"""Seven-segment displays misread: patterns and confusions (common practice, no source), and sequences read anew."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from codes.drawn import events, trace
from nopost.codes.code_events import CodeEvent, CodeForm, EventOrder
from nopost.codes.misread_digits import CONFUSED_DISTANCE, LIT, distance, misreadings, reread
from nopost.codes.table_inference import infer_table
from nopost.codes.tables import TableSet
from nopost.knowledge.model import Knowledge


@pytest.fixture(scope="module")
def tables(knowledge: Knowledge) -> TableSet:
    return TableSet(knowledge.codes, knowledge.base.roles)


def read_anew(codes: list[str], tables: TableSet) -> dict[int, str]:
    sequence = events(codes)
    return {r.position: r.instead for r in reread(sequence, tables, infer_table(sequence, tables, form=CodeForm.HEX))}


def test_patterns_are_all_different() -> None:
    assert len(LIT) == len(set(LIT.values())) == 16
    assert [len(LIT[sign]) for sign in "0123456789ABCDEF"] == [6, 2, 5, 5, 4, 5, 6, 3, 7, 6, 6, 5, 4, 5, 5, 4]


@pytest.mark.parametrize(("seen", "shown"), ["6B", "8B", "0D", "5S", "17", "2Z", "9G", "3E"])
def test_signs_that_people_confuse_are_near(seen: str, shown: str) -> None:
    assert distance(seen, shown) == distance(shown, seen) == CONFUSED_DISTANCE


def test_others_are_as_far_as_their_segments() -> None:
    assert distance("1", "8") == 5
    assert distance("A", "8") == 1
    assert distance("C", "1") == 6
    assert distance("?", "1") == float("inf")


def test_near_codes_come_first() -> None:
    near = misreadings("6B")
    assert {code for code, far in near if far == CONFUSED_DISTANCE} == {"BB", "5B", "9B", "66", "68"}
    assert [far for _, far in near] == sorted(far for _, far in near)
    assert ("55", CONFUSED_DISTANCE) in misreadings("5S")
    assert "6B" not in dict(near)


def test_one_dead_segment_counts_once() -> None:
    """66 without the lower right segment is no sign; 55 is what 66 and 56 show when the lower left one is dead."""
    assert dict(misreadings("55"))["66"] == 1.0
    assert dict(misreadings("33"))["99"] == 1.0


@given(st.text(max_size=10))
def test_any_text_has_a_list(code: str) -> None:
    assert all(len(other) == len(code.strip().upper()) and 0 < far <= 2 for other, far in misreadings(code))


def test_one_code_noted_wrong(tables: TableSet) -> None:
    """5d for 5D and the like are the reader's; here 1E became 13, which edk2 does not have."""
    codes = ["10", "11", "1D", "13", "1F", "20", "21", "31", "32", "33", "34", "35", "36"]
    found = reread(events(codes), tables, infer_table(events(codes), tables, form=CodeForm.HEX))
    assert [(r.position, r.code, r.instead, r.table) for r in found] == [(3, "13", "1E", "edk2")]
    assert found[0].gain > 3
    assert "looks like" in found[0].reason


def test_every_event_of_a_repeated_code_is_changed(tables: TableSet) -> None:
    codes = ["10", "11", "1D", "13", "13", "00", "13", "1F", "20", "21", "31", "32", "33", "34", "35", "36"]
    assert read_anew(codes, tables) == {3: "1E", 4: "1E", 6: "1E"}


def test_newest_first_keeps_its_positions(tables: TableSet) -> None:
    codes = ["10", "11", "1D", "13", "1F", "20", "21", "31", "32", "33", "34", "35", "36"][::-1]
    assert infer_table(events(codes), tables, form=CodeForm.HEX).order is EventOrder.NEWEST_FIRST
    assert read_anew(codes, tables) == {9: "1E"}


def test_dead_segment(tables: TableSet) -> None:
    """Upper left segment dead: 9 looks like 3; other signs that have it lit are no signs without it. Each change is said."""
    codes = ["21", "92", "91", "12", "13", "71", "72", "73", "77", "79"]
    seen = [code.replace("9", "3") for code in codes]
    inference = infer_table(events(seen), tables, form=CodeForm.HEX)
    found = reread(events(seen), tables, inference)
    assert {r.reason for r in found} == {"segment f never lit"}
    assert all(codes[r.position] == r.instead for r in found)
    assert [r.position for r in found] == [1, 2, 9]


def test_sequences_that_fit_are_left_alone(knowledge: Knowledge, tables: TableSet) -> None:
    for name in ("edk2", "coreboot"):
        for seed in range(100):
            assert read_anew(trace(knowledge.codes[name], random.Random(seed), noise=0.0), tables) == {}


@pytest.mark.slow
def test_foreign_codes_are_seldom_taken_for_mistakes(knowledge: Knowledge, tables: TableSet) -> None:
    false = sum(bool(read_anew(trace(knowledge.codes["edk2"], random.Random(seed), noise=0.05), tables)) for seed in range(200))
    assert false <= 10


def test_logs_of_machines_are_never_read_anew(tables: TableSet) -> None:
    wide = [CodeEvent(code) for code in ["1060", "1062", "1068", "9169"]]
    assert reread(wide, tables, infer_table(wide, tables, form=CodeForm.HEX)) == []
    long = events(["13", "1D"] * 300)
    assert reread(long, tables, infer_table(long, tables, form=CodeForm.HEX)) == []


@pytest.mark.slow
@given(codes=st.lists(st.one_of(st.text(max_size=3), st.text("0123456789ABCDEF", min_size=2, max_size=2)), max_size=40))
def test_any_list_of_codes(tables: TableSet, codes: list[str]) -> None:
    sequence = events(codes)
    found = reread(sequence, tables, infer_table(sequence, tables, form=CodeForm.HEX))
    assert all(codes[r.position] == r.code and r.code != r.instead for r in found)
