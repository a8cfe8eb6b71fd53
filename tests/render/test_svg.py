"""The SVG writer: text stays text, numbers are short, and documents are well-formed, read by the standard library's parser."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.render.svg import document, element, fill_of, number, pattern, placed, polyline, rectangle, text_at
from nopost.text import without_controls

SPACE = "{http://www.w3.org/2000/svg}"


@given(text=st.text(max_size=30), value=st.text(max_size=30))
def test_text_and_attributes_come_out_as_they_went_in(text: str, value: str) -> None:
    """But for what controls, whatever they hold."""
    root = ElementTree.fromstring(document(10, 10, text, [text_at(1, 2, text, 8, font_family=value)], description="d"))
    drawn = root.find(f"{SPACE}text")
    title = root.find(f"{SPACE}title")
    assert drawn is not None
    assert title is not None
    assert (drawn.text or "", title.text or "") == (without_controls(text),) * 2
    assert drawn.attrib["font-family"] == without_controls(value)


@given(value=st.floats(-1e6, 1e6))
def test_numbers(value: float) -> None:
    """At most two decimals, no exponent, no negative nothing."""
    text = number(value)
    assert float(text) == pytest.approx(value, abs=0.005001)
    assert "e" not in text
    assert text != "-0"
    assert len(text.partition(".")[2]) <= 2


def test_elements() -> None:
    """Attributes by keyword, those of None left out; what is inside is SVG already."""
    assert element("g", rectangle(0, 0, 1.5, 2, stroke_width=0.8, rx=None), id="a") == (
        '<g id="a"><rect x="0" y="0" width="1.5" height="2" stroke-width="0.8"/></g>'
    )
    assert polyline([(0, 0), (1, 1)], closed=True, fill="#fff") == '<polygon points="0,0 1,1" fill="#fff" stroke="#111"/>'
    assert placed(1, 2, "<a/>", scale=0.72) == '<g transform="translate(1 2) scale(0.72)"><a/></g>'


def test_a_fill_refers_to_its_pattern() -> None:
    """By the id that the pattern has in the document."""
    root = ElementTree.fromstring(
        document(9, 9, "t", [rectangle(0, 0, 9, 9, fill=fill_of("a-b"))], definitions=[pattern("a-b", 8)])
    )
    defined = root.find(f"{SPACE}defs/{SPACE}pattern")
    assert defined is not None
    assert root.findall(f"{SPACE}rect")[-1].attrib["fill"] == f"url(#{defined.attrib['id']})"
