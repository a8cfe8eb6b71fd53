"""The graph of a board's releases: which may follow which, in words and as a picture."""

from __future__ import annotations

import subprocess
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path
from shutil import which

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nopost.firmware.release_graph import graph_data, graph_of, may_write, release_words, writable_words
from nopost.firmware.route.moves import why_not
from nopost.firmware.route.task import RouteState, Way, make_task
from nopost.knowledge.model import Knowledge
from nopost.knowledge.reference_records import Board, Release
from nopost.render.release_graph import WIDTH, picture, requirement_lines

NAMES = ("kelp-1", "kelp-2", "a-family-with-a-rather-long-name-of-its-own", "<&\"'>")
FEWER = settings(max_examples=settings().max_examples // 8)
"""Boards are large examples."""
TEXTS = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=30)


@st.composite
def boards(draw: st.DrawFn, base: Board) -> Board:
    """A board with releases that ask for earlier ones at will."""
    count = draw(st.integers(1, 14))
    versions = draw(st.lists(st.one_of(TEXTS, st.sampled_from(("1.9", "1.12"))), min_size=count, max_size=count, unique=True))
    releases = []
    for index, version in enumerate(versions):
        earlier = st.sampled_from(["", *versions[:index]])
        adds = tuple(draw(st.lists(st.sampled_from(NAMES), max_size=4, unique=True)))
        requires, accepts_from = draw(earlier), draw(earlier)
        one_way = draw(st.booleans())
        releases.append(Release(version, "2031-05-17", adds, requires=requires, accepts_from=accepts_from, one_way=one_way))
    return replace(base, first_families=("kelp-1",), releases=tuple(releases))


@pytest.fixture(scope="module")
def harbour(knowledge: Knowledge) -> Board:
    """A shipped board with all that a graph shows."""
    return knowledge.boards["tb-harbour-m2"]


@pytest.mark.slow
@FEWER
@given(st.data())
def test_agrees_with_the_route(knowledge: Knowledge, harbour: Board, data: st.DataObject) -> None:
    """A release can be written over another exactly when a route finds no reason against it, for a CPU that all know."""
    board = data.draw(boards(harbour))
    board = replace(board, releases=tuple(replace(release, drops=()) for release in board.releases))
    cpu = knowledge.cpus["kelp-120"]
    task = make_task(board, board.releases[0].version, cpu, cpu)
    nodes = graph_of(board)
    for at in range(len(board.releases)):
        state = RouteState(at, cpu.id, task.start.have)
        for to in range(len(board.releases)):
            if to != at:
                assert may_write(board, at, to) == (not why_not(task, state, Way.INSIDE, to))
                assert (to in nodes[at].writable) == may_write(board, at, to)


@FEWER
@given(st.data())
def test_lines_never_meet(harbour: Board, data: st.DataObject) -> None:
    """Two lines in one column do not lie over each other, and every demand has its line."""
    nodes = graph_of(data.draw(boards(harbour)))
    lines = requirement_lines(nodes)
    for line in lines:
        assert line.source < min(line.targets)
        for other in lines:
            if other is not line and other.column == line.column:
                assert other.last < line.source or line.last < other.source
    drawn = {(line.source, target) for line in lines for target in line.targets}
    places = {node.version: node.index for node in nodes}
    assert drawn == {(places[name], node.index) for node in nodes for name in node.needs}


def test_release_words(harbour: Board) -> None:
    """What each release changes and asks for."""
    assert [release_words(node) for node in graph_of(harbour)] == [
        "",
        "adds kelp-2",
        "needs 0.94 or later",
        "adds kelp-3; needs 0.98 or later; no way back from it to an older one",
        "adds kelp-4; drops kelp-1; needs 0.102 or later",
    ]
    (*_, last) = graph_of(replace(harbour, releases=harbour.releases[-1:]))
    assert release_words(last) == "adds kelp-4; drops kelp-1; needs 0.102 or later, which this record lacks"


def test_harbour_words(harbour: Board) -> None:
    """What can be written over what."""
    assert list(writable_words(graph_of(harbour))) == [
        ("0.90", "0.94"),
        ("0.94", "0.90, 0.98"),
        ("0.98", "0.90, 0.94, 0.102"),
        ("0.102, 0.110", "0.102, 0.110"),
    ]
    (*_, last) = graph_data(graph_of(harbour))
    assert (last["knows"], last["needs"], last["may_follow"]) == (["kelp-2", "kelp-3", "kelp-4"], ["0.102"], ["0.102"])


@pytest.mark.slow
@FEWER
@given(st.data())
def test_picture_is_sound(harbour: Board, data: st.DataObject) -> None:
    """Well-formed, within its width, every version and every family in it, one circle for each release."""
    nodes = graph_of(data.draw(boards(harbour)))
    root = ET.fromstring(picture(nodes, "A board <&>"))
    texts = ["".join(element.itertext()) for element in root.iter("{http://www.w3.org/2000/svg}text")]
    assert len(list(root.iter("{http://www.w3.org/2000/svg}circle"))) == len(nodes)
    for node in nodes:
        assert all(any(f"+ {family}" in text for text in texts) for family in node.adds)
    for element in root.iter():
        x = element.get("x")
        assert x is None or 0 <= float(x) <= WIDTH


def test_picture_is_drawn(harbour: Board, tmp_path: Path) -> None:
    """A drawing program reads it."""
    tool = which("rsvg-convert")
    if tool is None:
        pytest.skip("rsvg-convert is not installed")
    (tmp_path / "graph.svg").write_text(picture(graph_of(harbour), harbour.title), encoding="utf-8")
    done = subprocess.run([tool, str(tmp_path / "graph.svg"), "-o", str(tmp_path / "graph.png")], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
