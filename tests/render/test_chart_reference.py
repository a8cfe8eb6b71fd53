"""Layout and measures against published facts."""

from __future__ import annotations

from itertools import combinations, permutations
from math import comb

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.render.link_map import ColumnNode, crossings, ordered_columns
from nopost.render.pdf import PdfWriter
from nopost.render.scene import PAPER_SIZES
from nopost.render.typesetting import SansSerifMetrics
from render.few_examples import one_in

HELVETICA = {" ": 278, "A": 667, "M": 833, "W": 944, "i": 222, "m": 833, "0": 556, "@": 1015}
HELVETICA_BOLD = {" ": 278, "A": 722, "M": 833, "W": 944, "i": 278, "m": 889, "0": 556, "@": 975}
"""Widths in thousandths of the size: Adobe Core 14 AFM files, Helvetica.afm and Helvetica-Bold.afm (from memory)."""


@pytest.mark.parametrize(("bold", "published"), [(False, HELVETICA), (True, HELVETICA_BOLD)])
def test_widths_of_the_standard_font(bold: bool, published: dict[str, int]) -> None:
    """What the PDF is measured with."""
    pdf = PdfWriter()
    assert {letter: round(pdf.width(letter, 1000, bold)) for letter in published} == published


@pytest.mark.parametrize("bold", [False, True])
def test_unknown_font_is_counted_wide(bold: bool) -> None:
    """No letter is narrower than in Helvetica, so text stays in its box where a viewer takes that for sans-serif."""
    pdf, svg = PdfWriter(), SansSerifMetrics()
    letters = [c for c in map(chr, range(32, 256)) if pdf.renderable(c) == c and c.isprintable()]
    assert len(letters) > 180
    assert [c for c in letters if svg.width(c, 10, bold) < pdf.width(c, 10, bold)] == []


def test_paper() -> None:
    """A4: 210 x 297 mm (ISO 216); letter: 8.5 x 11 inches (ANSI/ASME Y14.1)."""
    assert PAPER_SIZES["a4"] == pytest.approx((210 / 25.4 * 72, 297 / 25.4 * 72), abs=0.01)
    assert PAPER_SIZES["letter"] == (8.5 * 72, 11 * 72)


def graph_of(lines: set[tuple[int, int]]) -> tuple[nx.Graph, list[ColumnNode]]:
    """Causes and findings by number, joined; and the causes."""
    graph: nx.Graph = nx.Graph()
    graph.add_edges_from(((0, str(a)), (1, str(b))) for a, b in sorted(lines))
    return graph, [node for node in graph if node[0] == 0]


@pytest.mark.parametrize(("m", "n"), [(2, 2), (3, 3), (4, 5)])
def test_crossings_of_complete_graphs(m: int, n: int) -> None:
    """Two columns, all joined: C(m, 2) C(n, 2) crossings in any order (each two and two give one; common knowledge)."""
    graph, left = graph_of({(a, b) for a in range(m) for b in range(n)})
    groups, right = ordered_columns(graph, {"part": left})
    assert crossings(graph, groups[0], right) == comb(m, 2) * comb(n, 2)


@one_in(10)
@given(st.sets(st.tuples(st.integers(0, 3), st.integers(0, 4)), min_size=1))
def test_few_more_crossings_than_the_least(lines: set[tuple[int, int]]) -> None:
    """Against all orders of both columns: at most one more than the least, or a fifth."""
    graph, left = graph_of(lines)
    groups, right = ordered_columns(graph, {"part": left})
    found = crossings(graph, groups[0], right)
    free = sorted(node for node in graph if node[0] == 1)
    least = min(crossings(graph, one, two) for one in permutations(left) for two in permutations(free))
    assert least <= found <= max(least + 1, 1.2 * least)


@pytest.mark.slow
@one_in(10)
@given(st.lists(st.integers(1, 5), min_size=1, max_size=8))
def test_caterpillars_have_no_crossings(legs: list[int]) -> None:
    """Trees that are a path with legs are the graphs that two columns hold without a crossing (Harary & Schwenk 1972)."""
    lines, free = set(), 0
    for spine, count in enumerate(legs):
        for _ in range(count):
            lines.add((spine, free))
            free += 1
        if spine + 1 < len(legs):
            lines.add((spine + 1, free - 1))
    graph, left = graph_of(lines)
    groups, right = ordered_columns(graph, {"part": left})
    assert crossings(graph, groups[0], right) == 0


@pytest.mark.slow
@given(st.sets(st.tuples(st.integers(0, 5), st.integers(0, 5)), min_size=1))
def test_crossings_by_pairs(lines: set[tuple[int, int]]) -> None:
    """Two lines cross when their ends are in opposite order."""
    graph, left = graph_of(lines)
    right = [node for node in graph if node[0] == 1]
    places = {node: k for column in (left, right) for k, node in enumerate(column)}
    ends = [(places[0, str(a)], places[1, str(b)]) for a, b in lines]
    expected = sum((one[0] - two[0]) * (one[1] - two[1]) < 0 for one, two in combinations(ends, 2))
    assert crossings(graph, left, right) == expected


@one_in(10)
@given(st.sets(st.tuples(st.integers(0, 8), st.integers(0, 5)), min_size=1))
def test_groups_stay_together(lines: set[tuple[int, int]]) -> None:
    """Whatever the order."""
    graph, left = graph_of(lines)
    parts = {part: [node for node in left if int(node[1]) % 3 == part] for part in range(3)}
    groups, right = ordered_columns(graph, {str(part): nodes for part, nodes in parts.items() if nodes})
    assert sorted(map(sorted, groups)) == sorted(sorted(nodes) for nodes in parts.values() if nodes)
    assert sorted(right) == sorted(node for node in graph if node[0] == 1)
