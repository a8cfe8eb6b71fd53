"""Nothing overlaps, nothing leaves its box or the page, whatever the knowledge base says and on whatever paper."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable
from functools import cache

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from nopost.diagnosis.belief.expected_weight import ExpectedWeightModel, strongest_links
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.diagnose import Diagnostician
from nopost.knowledge.model import Knowledge
from nopost.render.cause_page import CausePage
from nopost.render.decision_chart import DecisionChart
from nopost.render.decision_tree import ChartNode, DecisionTree
from nopost.render.link_map import map_pages
from nopost.render.page_layout import LOCAL_CODES, Imprint, PaperSheet
from nopost.render.pdf import PdfWriter
from nopost.render.scene import PAPER_SIZES, Page
from nopost.render.svg import svg_of
from nopost.render.typesetting import FontMetrics, SansSerifMetrics
from render.few_examples import one_in
from render.page_faults import faults
from render.wild_bases import Wild

GROWN: dict[str, ChartNode] = {}
"""Digest of a knowledge base -> its tree, which is the same for every paper."""
Draw = Callable[[Knowledge, FontMetrics, PaperSheet], list[Page]]


def imprint(knowledge: Knowledge) -> Imprint:
    """As the command makes it."""
    return Imprint(knowledge.base.name, knowledge.base.edition, "2026-11-25")


def the_map(knowledge: Knowledge, metrics: FontMetrics, sheet: PaperSheet) -> list[Page]:
    """All causes."""
    links = strongest_links(ExpectedWeightModel(BeliefModel(knowledge)), knowledge.causes, 4)
    return map_pages(knowledge, links, metrics, sheet, imprint(knowledge))


def the_chart(knowledge: Knowledge, metrics: FontMetrics, sheet: PaperSheet) -> list[Page]:
    """Three levels, and little left out."""
    root = GROWN.get(knowledge.digest) or DecisionTree(Diagnostician(knowledge), 3, 0.06).grow()
    if knowledge.digest:
        GROWN[knowledge.digest] = root
    return DecisionChart(knowledge, root, metrics, sheet).pages(imprint(knowledge))


def the_pages(knowledge: Knowledge, metrics: FontMetrics, sheet: PaperSheet) -> list[Page]:
    """Some causes."""
    maker = CausePage(ExpectedWeightModel(BeliefModel(knowledge)), metrics, PaperSheet(sheet.paper, binding=True))
    return [page for name in list(knowledge.causes)[::15] for page in maker.pages(name, imprint(knowledge))]


DRAWINGS: dict[str, Draw] = {"map": the_map, "chart": the_chart, "page": the_pages}
METRICS: dict[str, Callable[[], FontMetrics]] = {"svg": SansSerifMetrics, "pdf": cache(PdfWriter)}


@pytest.mark.slow
@pytest.mark.parametrize("drawing", DRAWINGS)
@pytest.mark.parametrize(("form", "paper"), [("svg", "letter"), ("pdf", "a4")])
def test_shipped_knowledge(knowledge: Knowledge, drawing: str, form: str, paper: str) -> None:
    """Every page of the shipped knowledge base, with the line that comes first."""
    metrics = METRICS[form]()
    pages = DRAWINGS[drawing](knowledge, metrics, PaperSheet(paper))
    assert pages
    for page in pages:
        assert faults(page, metrics) == [], page.title
        assert (page.width, page.height) == PAPER_SIZES[paper]
        assert LOCAL_CODES in [getattr(item, "text", "") for item in page.items]


@pytest.mark.slow
@pytest.mark.parametrize("drawing", DRAWINGS)
@one_in(80)
@given(seed=st.integers(0, 10**9), form=st.sampled_from(["svg", "pdf"]), paper=st.sampled_from(sorted(PAPER_SIZES)))
@example(seed=7, form="pdf", paper="letter")
def test_any_knowledge(drawing: str, seed: int, form: str, paper: str) -> None:
    """Random bases with texts that are hard to print."""
    metrics = METRICS[form]()
    for page in DRAWINGS[drawing](Wild(seed).base(), metrics, PaperSheet(paper)):
        assert faults(page, metrics) == [], page.title
        if form == "svg":
            ET.fromstring(svg_of(page))


@pytest.mark.parametrize("seed", range(3))
def test_pdf_of_any_text(seed: int) -> None:
    """What the font lacks does not stop the file."""
    pdf = PdfWriter()
    pages = the_map(Wild(seed).base(), pdf, PaperSheet("a4"))
    content = pdf.document(pages)
    assert content.startswith(b"%PDF-")
    assert content.count(b"/Type /Page\n") == len(pages)
