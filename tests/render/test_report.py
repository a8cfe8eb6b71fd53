"""Reports: what each end says, and text that is shown as it is, whatever it holds."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.history import End, EventKind, History, Parts
from nopost.diagnosis.step_view import StepView, step_view
from nopost.knowledge.model import Knowledge
from nopost.render.report import html_report, markdown_report, report_data, report_sections
from nopost.store.sessions import Session, new_session
from nopost.text import without_controls

ALWAYS = ["State", "Machine", "What is there", "Where the trouble is", "Most probable causes", "Seen", "Tried"]
TAGS = {"html", "head", "meta", "title", "style", "body", "h1", "h2", "section", "ul", "li", "footer"}
NASTY = [
    "<script>alert(1)</script>",
    "</li></ul><img src=x onerror=y>",
    "&lt; &amp; &#60;",
    "**bold** _it_ `code` ~~gone~~",
    "[a](b) ![c](d) <e@f>",
    "| a | b |",
    "# heading",
    "- item",
    "+ item",
    "1. first",
    "2) second",
    "---",
    "===",
    "> quote",
    "\\*",
    "{title} {0} %s",
    "a\nb\r\n\n    c",
    "\N{RIGHT-TO-LEFT OVERRIDE}abc",
]
texts = st.sampled_from(NASTY) | st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40)


def a_session(knowledge: Knowledge, parts: Parts | None = None) -> Session:
    """A session with one of everything."""
    session = new_session("bench-1", knowledge, History(parts or Parts(board="tb-harbour-m2")))
    for kind, item, value in (
        (EventKind.ANSWER, "screen", knowledge.findings["screen"].answer_ids[0]),
        (EventKind.ANSWER, "screen", "no-signal"),
        (EventKind.TRIED, "reseat-memory", "same"),
        (EventKind.SKIPPED, "replace-cpu", ""),
    ):
        session = session.add(kind, item, value)
    return session


def assessed(diagnostician: Diagnostician, session: Session) -> tuple[Knowledge, Session, Diagnosis, StepView]:
    """What a report is made from."""
    diagnosis = diagnostician.diagnose(session.history)
    return diagnostician.knowledge, session, diagnosis, step_view(diagnostician, session.history, diagnosis)


class Page(HTMLParser):
    """Tags and list texts of a page; says when an end tag does not fit."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.open: list[str] = []
        self.items: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        if tag != "meta":
            self.open.append(tag)
        if tag == "li":
            self.items.append("")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "li":
            self.items[-1] += data


@pytest.mark.parametrize(
    ("end", "more", "state"),
    [
        (None, ["Next step"], "Open"),
        (End.STARTS, ["Before calling it well"], "It starts."),
        (End.CAUSE_FOUND, ["To tell and bring"], "The cause is found"),
        (End.NO_LISTED_CAUSE, ["To tell and bring"], "No listed cause fits"),
        (End.SHOP, ["To tell and bring"], "It goes to a shop."),
    ],
)
def test_sections_of_each_end(diagnostician: Diagnostician, end: End | None, more: list[str], state: str) -> None:
    """What a report holds depends on how the session ended."""
    session = a_session(diagnostician.knowledge)
    if end is not None:
        session = session.add(EventKind.END, "memory-not-seated", end)
    sections = {s.title: s.lines for s in report_sections(*assessed(diagnostician, session))}
    assert [title for title in sections if title != "Cautions"] == [
        title for title in (*ALWAYS, *more) if title != "Where the trouble is" or end is not End.STARTS
    ]
    assert sections["State"][0].startswith(state)
    mended = f"{diagnostician.knowledge.causes['memory-not-seated'].title} (mended)"
    assert (sections["Most probable causes"] == (mended,)) == (end is End.STARTS)


def test_what_was_seen_and_tried(diagnostician: Diagnostician) -> None:
    """The last answer counts; what was tried comes with its outcome; what was not possible is told."""
    knowledge = diagnostician.knowledge
    sections = {s.title: s.lines for s in report_sections(*assessed(diagnostician, a_session(knowledge)))}
    screen = knowledge.findings["screen"]
    assert sections["Seen"] == (f"{screen.title}: {screen.answer_text('no-signal')}",)
    assert sections["Tried"] == (
        f"{knowledge.actions['reseat-memory'].title}: nothing changed",
        f"{knowledge.actions['replace-cpu'].title}: not possible here",
    )


def test_empty_session(diagnostician: Diagnostician) -> None:
    """Empty sections are left out."""
    sections = report_sections(*assessed(diagnostician, new_session("bench-1", diagnostician.knowledge)))
    assert [section.title for section in sections] == ["State", "Where the trouble is", "Most probable causes", "Next step"]


def test_cautions_are_in_the_report(diagnostician: Diagnostician) -> None:
    """A burnt smell is on the page that goes to the shop."""
    session = new_session("bench-1", diagnostician.knowledge).add(EventKind.ANSWER, "danger-signs", "burnt-smell-or-smoke")
    sections = {s.title: s.lines for s in report_sections(*assessed(diagnostician, session))}
    assert diagnostician.knowledge.hazards["burnt"].caution in sections["Cautions"]


def test_end_that_nobody_knows(diagnostician: Diagnostician) -> None:
    """An end and a cause of another edition are shown as they are."""
    session = a_session(diagnostician.knowledge).add(EventKind.END, "gone-cause", "gone-end")
    for write in (markdown_report, html_report):
        assert "gone-end" in write(*assessed(diagnostician, session))


@pytest.mark.slow
@settings(max_examples=60)
@given(texts)
def test_html_shows_text_as_it_is(diagnostician: Diagnostician, text: str) -> None:
    """A page holds the tags it is made of and no other, and each text comes out as it went in, but for what controls the page."""
    session = a_session(diagnostician.knowledge, Parts(firmware=text))
    page = Page(html_report(*assessed(diagnostician, session)))
    assert page.tags == TAGS
    assert page.attributes == {"lang", "charset", "name", "content"}
    assert without_controls(f"firmware: {text}") in page.items


def one_line(text: str) -> str:
    """In one line, and what controls the terminal or turns the direction of writing replaced."""
    return " ".join(without_controls(re.sub("[\t\n\r]", " ", text)).split())


@pytest.mark.slow
@settings(max_examples=60)
@given(texts)
def test_markdown_shows_text_as_it_is(diagnostician: Diagnostician, text: str) -> None:
    """Rendered by a CommonMark library (with tables and strike-through), each text is one line of a list, as it went in."""
    session = a_session(diagnostician.knowledge, Parts(firmware=text))
    rendered = (
        MarkdownIt("commonmark").enable(["table", "strikethrough"]).render(markdown_report(*assessed(diagnostician, session)))
    )
    page = Page(rendered)
    assert page.tags == {"h1", "h2", "ul", "li", "p"}
    assert one_line(f"firmware: {text}") in [" ".join(item.split()) for item in page.items]


@pytest.mark.slow
@pytest.mark.parametrize("text", NASTY)
def test_markdown_of_a_line_alone(diagnostician: Diagnostician, text: str) -> None:
    """A line that begins with what would be a list, a heading or a rule is shown as it is."""
    session = a_session(diagnostician.knowledge).add(EventKind.END, "", text)
    rendered = (
        MarkdownIt("commonmark").enable(["table", "strikethrough"]).render(markdown_report(*assessed(diagnostician, session)))
    )
    page = Page(rendered)
    assert page.tags == {"h1", "h2", "ul", "li", "p"}
    assert page.items[0] == one_line(text)


def test_what_was_dropped_is_told(diagnostician: Diagnostician) -> None:
    """A session of another edition: what is missing from the report stands in it."""
    session = replace(a_session(diagnostician.knowledge), dropped=("no finding is called 'gone'",))
    titles = {section.title: section.lines for section in report_sections(*assessed(diagnostician, session))}
    assert titles["Dropped, since this edition does not know it"] == session.dropped
    assert report_data(*assessed(diagnostician, session))["dropped"] == list(session.dropped)


def test_data(diagnostician: Diagnostician) -> None:
    """The plain data: the keys that a reader may rely on."""
    data: dict[str, Any] = report_data(*assessed(diagnostician, a_session(diagnostician.knowledge)))
    assert list(data) == [
        "name",
        "created",
        "machine",
        "facts",
        "events",
        "dropped",
        "assessment",
        "there",
        "records",
        "firmware_plan",
    ]
    assert [list(event) for event in data["events"]] == [["kind", "item", "value", "at"]] * 4
    assert data["assessment"]["next"]["kind"] in ("ask", "do", "shop")
