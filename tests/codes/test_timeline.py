"""What there is to draw: places, what is condensed, loops, endings. The sequences are invented."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from codes.boot_sequences import FULL, events
from codes.timelines import boot_rows, timeline
from nopost.codes.code_events import BRANCH_PHASES, PHASE_ORDER, PHASES, CodeEvent
from nopost.codes.tables import TableSet
from nopost.codes.timeline import MOST_PIECES, BootEnding, OmittedBoots
from nopost.codes.timeline_layout import Importance, TimelinePiece, condensed
from nopost.codes.wording import duration
from nopost.files import data_dir

ROUND = "10 11 1D 1E 1F 21 "
CODES = st.sampled_from([*FULL.split(), "53", "F0", "E1", "00", "C7"])
TIMES = st.floats(0, 1e7, allow_nan=False)
PIECES = st.lists(
    st.builds(TimelinePiece, st.sampled_from(["pei", "memory", ""]), st.sampled_from(["10", "11", "20", "21"])), max_size=400
)


@pytest.mark.slow
@given(st.lists(st.tuples(CODES, TIMES), min_size=1, max_size=80), st.sampled_from(["rising", "as-they-come", "equal", "none"]))
def test_segments_lie_in_the_row_in_order(tables: TableSet, drawn: list[tuple[str, float]], clock: str) -> None:
    """Whatever the times are; nothing is lost but by being counted."""
    times = sorted(at for _, at in drawn) if clock == "rising" else [at for _, at in drawn]
    at: list[float] | list[None] = [None] * len(drawn) if clock == "none" else [3.0] * len(drawn) if clock == "equal" else times
    sequence = [CodeEvent(code, at=when) for (code, _), when in zip(drawn, at, strict=True)]
    found = timeline(sequence, tables)
    for row in boot_rows(found):
        end = 0.0
        for segment in row.segments:
            assert segment.start == pytest.approx(end, abs=1e-9)
            assert segment.width >= 0
            end = segment.start + segment.width
        assert 0 < end <= 1 + 1e-9
    assert all(row.ending is BootEnding.RESTARTED for row in boot_rows(found)[:-1])
    drawn_boots = sum(segment.piece.count for row in boot_rows(found) for segment in row.segments)
    assert drawn_boots <= len(drawn)
    if not any(isinstance(row, OmittedBoots) for row in found.rows):
        assert drawn_boots == len(drawn)


@pytest.mark.slow
@given(PIECES, st.integers(7, 60))
def test_condensing_keeps_the_count(pieces: list[TimelinePiece], most: int) -> None:
    """At most so many; the ends stay; each code is drawn or counted."""
    found = condensed(pieces, most)
    assert len(found) <= most
    assert sum(piece.count for piece in found) == len(pieces)
    if pieces:
        assert (found[0].code, found[-1].code) == (pieces[0].code, pieces[-1].code)
    if len(pieces) <= 7:
        assert [piece.code for piece in found] == [piece.code for piece in pieces]


def test_condensing_joins_no_more_than_it_must() -> None:
    """70 different codes in room for 60: eleven become one."""
    pieces = [TimelinePiece("dxe", f"{k:02X}") for k in range(70)]
    found = condensed(pieces, 60)
    assert len(found) == 60
    assert [piece.count for piece in found if not piece.code] == [11]
    assert found[30].importance is Importance.PLAIN


def test_rounds_of_training_are_one_piece(tables: TableSet) -> None:
    """Two codes that take turns 200 times."""
    (row,) = boot_rows(timeline(events("10 11 1D 1E " + "20 21 " * 200), tables))
    labels = [segment.piece.label for segment in row.segments]
    assert labels == ["10", "11", "1D", "1E", "20", "21", "+396", "20", "21"]
    assert row.ending is BootEnding.BUSY


@pytest.mark.parametrize("times", [3, 7, 40])
@pytest.mark.parametrize("rest", ["", "10 11"])
def test_loop_counts_its_rounds(tables: TableSet, times: int, rest: str) -> None:
    """A round cut off is no whole one."""
    found = timeline(events(ROUND * times + rest), tables)
    assert found.loop is not None
    assert (found.loop.times, found.loop.first, found.loop.last) == (times, 1, times + bool(rest))
    assert ("begun once more" in found.loop.words) == bool(rest)
    assert len(found.rows) == 3
    assert f"all {times - 2 + bool(rest)} like boot 1" in str(found.rows[1]) or times == 3


def test_loop_after_a_boot_that_came_further(tables: TableSet) -> None:
    """The bracket begins where the rounds do."""
    found = timeline(events("10 11 1D 21 31 60 70 90 97 " + ROUND * 4), tables)
    assert found.loop is not None
    assert (found.loop.first, found.loop.times) == (2, 4)


def test_loop_with_a_lost_code(tables: TableSet) -> None:
    """Boots that differ by one code are told, and counted as rounds."""
    found = timeline(events(ROUND * 3 + "10 11 1E 1F 21 " + ROUND * 3), tables)
    assert found.loop is not None
    assert found.loop.times == 7
    assert "lost or doubled" in found.loop.words
    assert found.rows[1] == OmittedBoots(2, 6, "Boots 2 to 6: all 5 like boot 1, 1 of them but for one code")


def test_rounds_that_are_not_alike(tables: TableSet) -> None:
    """Each is drawn while there are few."""
    found = timeline(events("10 11 1D 21 31 10 11 10 11 1D 21 31 60 70 10 11 1D 1E"), tables)
    assert found.loop is not None
    assert (found.loop.times, len(boot_rows(found))) == (0, 4)


@pytest.mark.parametrize(
    ("text", "ending", "stop"),
    [
        ("10 11 1D 1E 53", BootEnding.STOPPED, "53"),
        ("10 11 1D 21 31 60 70 90 97", BootEnding.STOPPED, "97"),
        (FULL, BootEnding.HANDED_OVER, ""),
        ("00 FF", BootEnding.SILENT, ""),
        ("C7 C9", BootEnding.RECORD_ENDS, ""),
    ],
)
def test_where_it_ends(tables: TableSet, text: str, ending: BootEnding, stop: str) -> None:
    """The stopping point is marked, and nothing else."""
    (row,) = boot_rows(timeline(events(text), tables))
    assert row.ending is ending
    assert [segment.piece.code for segment in row.segments if segment.piece.stop] == ([stop] if stop else [])


def test_times_are_to_scale_and_a_long_wait_is_cut(tables: TableSet) -> None:
    """Four hours before the next start do not squeeze three seconds of codes."""
    found = timeline(events("10 11 1D 53 10 11 1D 53", at=[0, 1, 2, 3, 14_403, 14_404, 14_405, 14_406]), tables)
    first = boot_rows(found)[0]
    assert [round(s.width / first.segments[0].width, 3) for s in first.segments[:3]] == [1, 1, 1]
    assert first.segments[3].cut
    assert first.segments[3].piece.seconds == 14_400
    assert first.segments[0].width == pytest.approx(1 / found.seconds)


@pytest.mark.slow
def test_a_hundred_thousand_codes(tables: TableSet) -> None:
    """Drawn with a bounded number of pieces."""
    one_boot = timeline([CodeEvent(f"{k * 7919 % 65536:04X}") for k in range(100_000)], tables)
    assert all(len(row.segments) <= MOST_PIECES for row in boot_rows(one_boot))
    assert len(one_boot.rows) <= 6


def test_letters_tell_phases_apart() -> None:
    """No two have the same."""
    assert len({phase.letter for phase in PHASES.values()}) == len(PHASES)


def test_phases_are_those_of_the_schema() -> None:
    schema = json.loads((data_dir("schemas") / "codes.schema.json").read_text(encoding="utf-8"))
    known = schema["properties"]["codes"]["items"]["properties"]["phase"]["enum"]
    assert {*PHASE_ORDER, *BRANCH_PHASES} == set(known)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 s"),
        (0.012, "12 ms"),
        (0.0999, "0.1 s"),
        (0.25, "0.25 s"),
        (1, "1 s"),
        (8.04, "8 s"),
        (42.4, "42 s"),
        (59.97, "1 min"),
        (119.7, "2 min"),
        (95, "1 min 35 s"),
        (3600, "60 min"),
        (14_400, "4.0 h"),
        (864_000, "10 days"),
    ],
)
def test_durations(seconds: float, words: str) -> None:
    """Short, and to the digits that matter."""
    assert duration(seconds) == words
