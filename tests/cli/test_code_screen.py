"""The timeline in the terminal: it fits, needs neither colour nor more than ASCII, and cannot control the terminal."""

from __future__ import annotations

import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from codes.boot_sequences import FULL, events
from codes.timelines import timeline
from nopost.codes.code_events import CodeEvent
from nopost.codes.tables import TableSet
from nopost.codes.timeline import Timeline
from nopost.knowledge.model import Knowledge
from nopost_cli.shared.decode_screen import timeline_lines

ROUND = "10 11 1D 1E 1F 21 "


@pytest.fixture(scope="session")
def tables(knowledge: Knowledge) -> TableSet:
    """The shipped code tables."""
    return TableSet(knowledge.codes, knowledge.base.roles)


def shown(found: Timeline, width: int, encoding: str = "utf-8") -> list[str]:
    """The lines as a pipe gets them."""
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding, newline="\n")
    console = Console(file=stream, width=width, markup=False, emoji=False, highlight=False)
    console.print(timeline_lines(console, found))
    stream.flush()
    return raw.getvalue().decode(encoding).splitlines()


@pytest.mark.slow
@given(
    st.lists(
        st.builds(CodeEvent, st.sampled_from([*FULL.split(), "53", "F0", "\x1b[2J", "ü–×", "[red]"])), min_size=1, max_size=90
    ),
    st.sampled_from([60, 80, 200]),
    st.sampled_from(["utf-8", "ascii", "latin-1"]),
)
def test_fits_any_terminal(tables: TableSet, sequence: list[CodeEvent], width: int, encoding: str) -> None:
    """No line is wider, and no code reaches the terminal as a command."""
    lines = shown(timeline(sequence, tables), width, encoding)
    assert all(len(line) <= width for line in lines)
    assert not re.search("[\x00-\x1f\x7f-\x9f]", "".join(lines))


def test_a_stop(tables: TableSet) -> None:
    """Phases by letter, codes, how long it stood, and where it stopped."""
    found = timeline(events("10 11 1D 1E 1F 53", at=[0, 0.1, 0.2, 0.3, 9, 9.1]), tables)
    assert shown(found, 60) == [
        "[P] 10 11 [M] 1D 1E (8.7 s) 1F !53 ■ stopped at 53",
        "[P] before memory   [M] memory   ! error code",
    ]


@pytest.mark.parametrize(("encoding", "edges"), [("utf-8", "┌│└"), ("ascii", "+|+")])
def test_a_loop(tables: TableSet, encoding: str, edges: str) -> None:
    """A bracket at the left and how often it went round."""
    lines = shown(timeline(events(ROUND * 7), tables), 60, encoding)
    assert "".join(line[0] for line in lines[:3]) == edges
    assert lines[1].endswith("2-6 all 5 like boot 1")
    assert lines[3] == "Loop: 7 times the same round, up to 21."


def test_what_is_left_out_is_seen(tables: TableSet) -> None:
    """In a narrow window all phases keep their letter; in a wide one all codes are there."""
    found = timeline(events(FULL), tables)
    narrow, wide = shown(found, 60)[0], shown(found, 200)[0]
    assert re.findall(r"\[(.)\]", narrow) == re.findall(r"\[(.)\]", wide) == list("PMLDBH")
    assert "…" in narrow
    assert all(f" {code}" in wide for code in FULL.split())
    assert wide.endswith("handed over")
