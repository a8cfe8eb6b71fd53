"""What the charts say is what the engine says, and cutting them into pages loses nothing."""

from __future__ import annotations

import re
import sys
import zlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from importlib import import_module
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import small
from nopost.diagnosis.belief.evidence import Observations, Report
from nopost.diagnosis.belief.expected_weight import ExpectedWeightModel, WeightedLink, causes_per_thousand, strongest_links
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.diagnose import Diagnostician
from nopost.errors import OutputError
from nopost.knowledge import model as m
from nopost.knowledge.model import Knowledge
from nopost.render.cause_page import CausePage
from nopost.render.chart_boxes import BoxFitter, BoxTree
from nopost.render.decision_chart import DecisionChart, TreeCutter, TreePiece, packed_on_pages
from nopost.render.decision_tree import ChartBranch, ChartNode, ChartNodeKind, DecisionTree
from nopost.render.link_map import links_by_page, links_by_part, map_pages
from nopost.render.page_layout import Imprint, PaperSheet
from nopost.render.pdf import PdfWriter
from nopost.render.scene import Page, Polyline, TextLine
from nopost.render.svg import svg_of
from nopost.render.typesetting import SansSerifMetrics, percent
from render.few_examples import one_in

IMPRINT = Imprint("name", "1")


def texts(pages: list[Page]) -> list[str]:
    """Every line of text."""
    return [item.text for page in pages for item in page.items if isinstance(item, TextLine)]


def spots(spot: ChartNode) -> Iterator[ChartNode]:
    """A box and all that follow."""
    yield spot
    for branch in spot.branches:
        yield from spots(branch.node)


@pytest.fixture(scope="module")
def tree(diagnostician: Diagnostician) -> ChartNode:
    """The shipped questions, three deep."""
    return DecisionTree(diagnostician, 3, 0.03).grow()


@pytest.mark.slow
def test_tree_asks_what_the_advice_asks(diagnostician: Diagnostician, knowledge: Knowledge, tree: ChartNode) -> None:
    """Along the likeliest answers, each box is the next step of an assessment."""
    spot, reports = tree, list[Report]()
    while spot.branches:
        step = diagnostician.assess(Observations(tuple(reports))).advice.step
        finding = knowledge.findings[step.id]
        assert (spot.kind, spot.title) == (ChartNodeKind.ASK, finding.question)
        likeliest = max(spot.branches, key=lambda branch: branch.probability)
        answer = next(a.id for a in finding.answers if a.text == likeliest.label)
        reports.append(Report(finding.id, answer))
        spot = likeliest.node
    last = diagnostician.assess(Observations(tuple(reports)))
    cause, chance = last.ranking[0]
    assert len(reports) == 3
    assert spot.notes[0] == f"{percent(chance)} {knowledge.causes[cause].title}"


@pytest.mark.slow
def test_shares_add_up(tree: ChartNode) -> None:
    """What goes on and what is left out is everything."""
    asked = [spot for spot in spots(tree) if spot.branches]
    assert len(asked) > 5
    for spot in asked:
        assert sum(branch.probability for branch in spot.branches) + spot.left_share == pytest.approx(1)
        assert bool(spot.left_out) == (spot.left_share > 0)


@pytest.mark.slow
def test_danger_is_never_left_out(diagnostician: Diagnostician, knowledge: Knowledge) -> None:
    """Smoke and liquid stand in the chart when all else is cut, and end there with their cautions."""
    root = DecisionTree(diagnostician, 2, 0.5).grow()
    stops = [spot for spot in spots(root) if spot.kind is ChartNodeKind.STOP]
    assert {name for spot in stops for name in spot.hazards} >= {"burnt", "liquid"}
    assert all(knowledge.hazards[spot.hazards[0]].stop and not spot.branches for spot in stops)


def test_a_fix_comes_with_its_hazards_and_both_outcomes() -> None:
    """Hazards of the action, its chance to help, and the tree goes on when it does not."""
    hazard = m.Hazard("unplug", "Unplug first", "Pull the plug.")
    fixes = [replace(small.fix("likely", 1), hazards=("unplug",)), small.fix("other", 2)]
    causes = [small.cause("one", 3, {}, {"likely": 0.8}), small.cause("two", 2, {}, {"other": 0.9})]
    base = replace(small.knowledge([], causes, fixes), hazards={"unplug": hazard})
    root = DecisionTree(Diagnostician(base), 3, 0.001).grow()
    assert (root.kind, root.title, root.hazards) == (ChartNodeKind.DO, "likely", ("unplug",))
    starts, same = root.branches
    assert (starts.label, starts.node.kind) == ("It works", ChartNodeKind.STARTS)
    assert starts.probability == pytest.approx(Diagnostician(base).assess(Observations()).advice.step.success_probability)
    assert same.label == "No change"
    assert same.probability == pytest.approx(1 - starts.probability)
    assert (same.node.kind, same.node.title) == (ChartNodeKind.DO, "other")
    assert same.node.branches[1].node.kind is ChartNodeKind.SHOP


@pytest.mark.slow
def test_progress_ends_at_one(diagnostician: Diagnostician) -> None:
    """All shares together."""
    shares: list[float] = []
    DecisionTree(diagnostician, 2, 0.02, shares.append).grow()
    assert sum(shares) == pytest.approx(1)


@pytest.mark.slow
def test_pointers_lead_to_the_page_that_says_so(knowledge: Knowledge, tree: ChartNode) -> None:
    """Each "go on at n, page k" has its caption on that page, which names the page it came from."""
    pages = DecisionChart(knowledge, tree, SansSerifMetrics(), PaperSheet("a4")).pages(IMPRINT)
    count = 0
    for number, page in enumerate(pages, start=1):
        for mark, to in re.findall(r"Go on at (\d+), page (\d+)", "\n".join(texts([page]))):
            assert any(text.startswith(f"{mark} (from page {number})") for text in texts([pages[int(to) - 1]]))
            count += 1
    assert count > 3


@pytest.mark.slow
def test_chart_prints_the_cautions_first(knowledge: Knowledge, tree: ChartNode) -> None:
    """Every hazard of a box stands in full before the first question."""
    pages = DecisionChart(knowledge, tree, SansSerifMetrics(), PaperSheet("a4")).pages(IMPRINT)
    words = " ".join(" ".join(texts(pages)).split())
    first = words.index("Was there a bang")
    for name in {name for spot in spots(tree) for name in spot.hazards}:
        assert words.index(knowledge.hazards[name].title) < first


@st.composite
def trees(draw: st.DrawFn, depth: int = 4) -> ChartNode:
    """Random trees of boxes with up to 30 answers."""
    wide = draw(st.integers(0, 30 if draw(st.integers(0, 5)) == 0 else 4)) if depth else 0
    branches = tuple(ChartBranch("an answer", 0.5, draw(trees(depth=depth - 1))) for _ in range(wide))
    return ChartNode(ChartNodeKind.ASK, "word " * draw(st.integers(1, 30)), branches=branches)


def boxes(cell: BoxTree) -> Iterator[str]:
    """Titles of the boxes of a piece, without pointers."""
    if not cell.number:
        yield " ".join(row.text for row in cell.box.rows)
    for child in cell.children:
        yield from boxes(child)


@pytest.mark.slow
@one_in(20)
@given(root=trees(depth=3), columns=st.integers(2, 4), height=st.floats(320, 700))
def test_cutting_loses_nothing(root: ChartNode, columns: int, height: float) -> None:
    """Every box is on a page (one whose answers are divided, again with each part), and every piece fits."""
    fitter = BoxFitter(SansSerifMetrics(), {}, 150.0, 100.0)
    cell = fitter.tree(root)
    pieces = TreeCutter(columns, height, fitter.pointer).pieces(cell)
    found = Counter(box for piece in pieces for box in boxes(piece.tree))
    assert found.keys() == set(boxes(cell))
    assert not Counter(boxes(cell)) - found
    assert [piece.number for piece in pieces] == list(range(len(pieces)))
    assert all(piece.tree.height <= height + 1e-6 for piece in pieces)
    assert max(map(_depth, pieces)) <= columns
    pages = packed_on_pages(pieces, lambda piece: piece.tree.height, height)
    assert [piece for page in pages for piece in page] == pieces


def _depth(piece: TreePiece) -> int:
    def depth(cell: BoxTree) -> int:
        return 1 + max(map(depth, cell.children), default=0)

    return depth(piece.tree)


def test_map_draws_every_link(knowledge: Knowledge) -> None:
    """Each cause and each of its strongest findings; a line for each link and one for each kind in the key."""
    links = strongest_links(ExpectedWeightModel(BeliefModel(knowledge)), knowledge.causes, 4)
    pages = map_pages(knowledge, links, SansSerifMetrics(), PaperSheet("a4"), IMPRINT)
    drawn = sum(isinstance(item, Polyline) and len(item.points) == 4 for page in pages for item in page.items)
    assert drawn == len(links) == 4 * len(knowledge.causes)
    words = " ".join(texts(pages))
    for link in links:
        assert knowledge.causes[link.cause].title.split()[-1] in words
        assert knowledge.findings[link.finding].title.split()[-1] in words


@pytest.mark.slow
@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 20)), max_size=60, unique=True), st.integers(1, 12))
def test_pages_of_the_map_hold_each_link_once(pairs: list[tuple[int, int]], most: int) -> None:
    """However few lines a page holds."""
    causes = [small.cause(f"c{k}", 1, {}, {}) for k in range(10)]
    base = small.knowledge([], causes)
    links = [WeightedLink(f"c{c}", f"f{f}", 1.0) for c, f in pairs]
    pages = links_by_page(links_by_part(base, links), lambda some: len(some) <= most)
    assert Counter(link for page in pages for link in page) == Counter(links)
    assert all(0 < len(page) <= most for page in pages)


def test_strength_by_hand() -> None:
    """Two causes of 3 to 1 that exclude each other: 10 (0.9 lg(0.9 / 0.2) + 0.1 lg(0.1 / 0.8)) decibans for the first.

    Expected weight of evidence: Good 1950, "Probability and the Weighing of Evidence"; worked out from the definition.
    """
    seen = small.finding("f", {"no": 1.0, "yes": 0.0}, misreport=0.0)
    one = small.cause("one", 3, {"f": {"no": 0.1, "yes": 0.9}}, {}, alone=True)
    two = small.cause("two", 1, {"f": {"no": 0.8, "yes": 0.2}}, {}, alone=True)
    base = small.knowledge([seen], [one, two], base_=small.base(two_faults=0.0, unlisted=1e-12))
    strength = ExpectedWeightModel(BeliefModel(base))
    assert strength.decibans("one", "f") == pytest.approx(0.9 * 6.53212514 - 0.1 * 9.03089987, abs=1e-6)
    assert strength.hardest_to_distinguish("one", 3) == ["two"]
    parting = strength.best_discriminator("one", "two")
    assert parting is not None
    assert parting.answer == "yes"
    assert [parting.probability, parting.probability_other] == pytest.approx([0.9, 0.2])
    assert causes_per_thousand(base) == {"one": 750.0, "two": 250.0}


@pytest.mark.parametrize("name", ["memory-not-seated", "supply-dead"])
def test_page_of_a_cause(knowledge: Knowledge, name: str) -> None:
    """Two pages at most; the cautions of cause and fixes stand before the first fix, each fix with chance and steps."""
    if name not in knowledge.causes:
        name = next(iter(knowledge.causes))
    cause = knowledge.causes[name]
    pages = CausePage(ExpectedWeightModel(BeliefModel(knowledge)), SansSerifMetrics(), PaperSheet("a4", binding=True)).pages(
        name, IMPRINT
    )
    assert len(pages) <= 2
    lines = texts(pages)
    words = " ".join(lines)
    first = words.index("What mends it")
    for action in (knowledge.actions[fix] for fix in cause.fixes):
        assert action.title in words[first:]
        for hazard in (*cause.hazards, *action.hazards):
            assert words.index(knowledge.hazards[hazard].caution[:30]) < first
    for text in (cause.title, cause.explanation, cause.proof, *cause.source.values()):
        assert " ".join(text.split()) in words


def test_all_causes_in_two_pages(knowledge: Knowledge) -> None:
    """In the wider of the two ways of measuring, on the shorter paper."""
    maker = CausePage(ExpectedWeightModel(BeliefModel(knowledge)), SansSerifMetrics(), PaperSheet("letter", binding=True))
    assert {name: n for name in list(knowledge.causes)[1::12] if (n := len(maker.pages(name, IMPRINT))) > 2} == {}


@pytest.mark.slow
def test_pdf_holds_text_and_is_the_same_twice(knowledge: Knowledge) -> None:
    """Strings that a viewer can search, in the page's own coding, and no clock in the file."""
    files = []
    for _ in range(2):
        pdf = PdfWriter()
        links = strongest_links(ExpectedWeightModel(BeliefModel(knowledge)), ["memory-not-seated"], 4)
        files.append(pdf.document(map_pages(knowledge, links, pdf, PaperSheet("a4"), IMPRINT)))
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", files[0], re.DOTALL)
    shown = b"".join(zlib.decompress(stream) for stream in streams if stream[:1] == b"x")
    assert b"(A memory module is not pushed home, or)" in shown or b"A memory module is not pushed" in shown
    assert b"/WinAnsiEncoding" in files[0]
    assert files[0] == files[1]


def test_without_the_package(monkeypatch: pytest.MonkeyPatch) -> None:
    """One line that says what to do; SVG goes without it."""
    monkeypatch.setitem(sys.modules, "fpdf", None)
    with pytest.raises(OutputError, match=r"fpdf2, which is not installed; .* ends in \.svg"):
        PdfWriter()


def test_letters_that_the_font_lacks() -> None:
    """Accents and strokes go when they must, other characters become their number, and those are told."""
    pdf = PdfWriter()
    assert pdf.renderable("é “x” – łąŞ Ж\u4e2d\u2192") == "é “x” – laS [0416][4E2D]->"
    assert pdf.replaced == {"Ж", "\u4e2d"}


@pytest.mark.parametrize("letters", ["AЖ", "AЖ[]0123456789BCDEF"])
def test_font_of_ones_own(tmp_path: Path, letters: str) -> None:
    """Its letters are used and measured; what it lacks becomes a number, even where it has no digits."""
    font = _font(tmp_path / "own.ttf", letters)
    pdf = PdfWriter(font)
    assert pdf.renderable("AЖ\u4e2d") == "AЖ[4E2D]"
    assert pdf.width("AЖ", 10) == pytest.approx(2 * 7.0)
    text = TextLine(20, 20, "AЖ[4E2D]", 10, pdf.width("AЖ[4E2D]", 10))
    assert pdf.document([Page("own", "own", 100, 100, (text,))]).startswith(b"%PDF-")


def _font(path: Path, letters: str) -> Path:
    """A font of these letters, each a square, 0.7 of the size wide."""
    builder, pens = (import_module(f"fontTools.{name}") for name in ("fontBuilder", "pens.ttGlyphPen"))
    pen = pens.TTGlyphPen(None)
    pen.moveTo((0, 0))
    for point in ((0, 500), (500, 500), (500, 0)):
        pen.lineTo(point)
    pen.closePath()
    names = [".notdef", *(f"g{k}" for k in range(len(letters)))]
    made = builder.FontBuilder(1000, isTTF=True)
    made.setupGlyphOrder(names)
    made.setupCharacterMap({ord(letter): f"g{k}" for k, letter in enumerate(letters)})
    made.setupGlyf(dict.fromkeys(names, pen.glyph()))
    made.setupHorizontalMetrics(dict.fromkeys(names, (700, 0)))
    made.setupHorizontalHeader(ascent=800, descent=-200)
    made.setupNameTable({"familyName": "Own", "styleName": "Regular"})
    made.setupOS2()
    made.setupPost()
    made.save(path)
    return path


def test_svg_escapes_markup() -> None:
    """Text is text, and what controls is shown as a replacement."""
    page = Page("<&>", "<&>", 100, 100, (TextLine(1, 1, SansSerifMetrics().renderable("<b>&\x07\u202e</b>"), 8, 1),))
    drawn = svg_of(page)
    assert "&lt;b&gt;&amp;\ufffd\ufffd&lt;/b&gt;" in drawn
    assert "<b>" not in drawn
