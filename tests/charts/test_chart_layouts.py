"""Nothing overlaps, nothing leaves its box or the page, whatever the knowledge base says and on whatever paper."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable
from functools import cache

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from charts.few_examples import one_in
from charts.page_faults import faults
from charts.wild_bases import Wild
from nopost.advice.assess import Assessor
from nopost.belief.model import BeliefModel
from nopost.charts.cause_page import CausePage
from nopost.charts.decision import DecisionTree, Spot
from nopost.charts.decision_chart import DecisionChart
from nopost.charts.letters import AnySans, Metrics
from nopost.charts.link_map import map_pages
from nopost.charts.pdf import PdfPages
from nopost.charts.scene import POINTS, Page
from nopost.charts.sheet import LOCAL_CODES, Imprint, Sheet
from nopost.charts.strength import Strength, strongest
from nopost.charts.svg import svg_of
from nopost.knowledge.model import Knowledge

GROWN: dict[str, Spot] = {}
"""Digest of a knowledge base -> its tree, which is the same for every paper."""
Draw = Callable[[Knowledge, Metrics, Sheet], list[Page]]


def imprint(knowledge: Knowledge) -> Imprint:
    """As the command makes it."""
    return Imprint(knowledge.base.name, knowledge.base.edition, "2026-11-25")


def the_map(knowledge: Knowledge, metrics: Metrics, sheet: Sheet) -> list[Page]:
    """All causes."""
    links = strongest(Strength(BeliefModel(knowledge)), knowledge.causes, 4)
    return map_pages(knowledge, links, metrics, sheet, imprint(knowledge))


def the_chart(knowledge: Knowledge, metrics: Metrics, sheet: Sheet) -> list[Page]:
    """Three levels, and little left out."""
    root = GROWN.get(knowledge.digest) or DecisionTree(Assessor(knowledge), 3, 0.06).grow()
    if knowledge.digest:
        GROWN[knowledge.digest] = root
    return DecisionChart(knowledge, root, metrics, sheet).pages(imprint(knowledge))


def the_pages(knowledge: Knowledge, metrics: Metrics, sheet: Sheet) -> list[Page]:
    """Some causes."""
    maker = CausePage(Strength(BeliefModel(knowledge)), metrics, Sheet(sheet.paper, binding=True))
    return [page for name in list(knowledge.causes)[::15] for page in maker.pages(name, imprint(knowledge))]


DRAWINGS: dict[str, Draw] = {"map": the_map, "chart": the_chart, "page": the_pages}
METRICS: dict[str, Callable[[], Metrics]] = {"svg": AnySans, "pdf": cache(PdfPages)}


@pytest.mark.parametrize("drawing", DRAWINGS)
@pytest.mark.parametrize(("form", "paper"), [("svg", "letter"), ("pdf", "a4")])
def test_shipped_knowledge(knowledge: Knowledge, drawing: str, form: str, paper: str) -> None:
    """Every page of the shipped knowledge base, with the line that comes first."""
    metrics = METRICS[form]()
    pages = DRAWINGS[drawing](knowledge, metrics, Sheet(paper))
    assert pages
    for page in pages:
        assert faults(page, metrics) == [], page.title
        assert (page.width, page.height) == POINTS[paper]
        assert LOCAL_CODES in [getattr(item, "text", "") for item in page.items]


@pytest.mark.parametrize("drawing", DRAWINGS)
@one_in(80)
@given(seed=st.integers(0, 10**9), form=st.sampled_from(["svg", "pdf"]), paper=st.sampled_from(sorted(POINTS)))
@example(seed=7, form="pdf", paper="letter")
def test_any_knowledge(drawing: str, seed: int, form: str, paper: str) -> None:
    """Random bases with texts that are hard to print."""
    metrics = METRICS[form]()
    for page in DRAWINGS[drawing](Wild(seed).base(), metrics, Sheet(paper)):
        assert faults(page, metrics) == [], page.title
        if form == "svg":
            ET.fromstring(svg_of(page))


@pytest.mark.parametrize("seed", range(3))
def test_pdf_of_any_text(seed: int) -> None:
    """What the font lacks does not stop the file."""
    pdf = PdfPages()
    pages = the_map(Wild(seed).base(), pdf, Sheet("a4"))
    content = pdf.document(pages)
    assert content.startswith(b"%PDF-")
    assert content.count(b"/Type /Page\n") == len(pages)
