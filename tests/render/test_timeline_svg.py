"""The drawing: well-formed, inside its frame, no word over another, whatever the codes are."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Sequence
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from codes.boot_sequences import FULL, events
from codes.timelines import timeline
from nopost.codes.code_events import CodeEvent, CodeForm
from nopost.codes.tables import TableSet
from nopost.codes.timeline import Timeline
from nopost.knowledge.model import Knowledge
from nopost.render.code_labels import spread_labels
from nopost.render.timeline_svg import timeline_html, timeline_svg

SPACE = "{http://www.w3.org/2000/svg}"
WIDTH, TALLEST = 900.0, 1500.0
ROUND = "10 11 1D 1E 1F 21 "
Box = tuple[float, float, float, float, str]
_MOVE = re.compile(r"translate\(([-\d.]+) ([-\d.]+)\)")
ANY_EVENT = st.builds(
    CodeEvent,
    code=st.one_of(st.sampled_from(FULL.split()), st.text(min_size=1, max_size=60)),
    at=st.one_of(st.none(), st.floats(-1e9, 1e9)),
    boot=st.one_of(st.none(), st.integers(1, 9)),
    kind=st.sampled_from(["", "progress", "error"]),
    count=st.integers(1, 1_000_000),
)


@pytest.fixture(scope="module")
def tables(knowledge: Knowledge) -> TableSet:
    """The shipped code tables."""
    return TableSet(knowledge.codes, knowledge.base.roles)


def drawn(found: Timeline) -> ElementTree.Element:
    """The picture, parsed, once it has passed what holds for all pictures."""
    text = timeline_svg(found)
    assert text == timeline_svg(found)
    root = ElementTree.fromstring(text)
    width, height = (float(part) for part in root.attrib["viewBox"].split()[2:])
    assert width == WIDTH
    assert height <= TALLEST
    names = {element.tag.removeprefix(SPACE) for element in root.iter()}
    assert names <= {"svg", "title", "desc", "defs", "pattern", "rect", "path", "circle", "polyline", "text", "g"}
    assert not any(key.startswith("on") or "href" in key for element in root.iter() for key in element.attrib)
    boxes = list(words(root, 0.0, 0.0))
    for x, y, right, bottom, word in boxes:
        assert (x >= -0.5, y >= 0, right <= WIDTH + 0.5, bottom <= height) == (True,) * 4, word
    for one, other in itertools.combinations(boxes, 2):
        apart = one[2] <= other[0] + 0.3 or other[2] <= one[0] + 0.3 or one[3] <= other[1] + 0.3 or other[3] <= one[1] + 0.3
        assert apart, (one, other)
    for element in root.findall(f"{SPACE}polyline"):
        points = [float(number) for number in re.findall(r"-?[\d.]+", element.attrib["points"])]
        assert all(-0.5 <= x <= WIDTH + 0.5 for x in points[::2])
        assert all(0 <= y <= height for y in points[1::2])
    return root


def words(element: ElementTree.Element, dx: float, dy: float) -> list[Box]:
    """Where each line of text stands, from letters of 0.6 of their size (wide ones: as wide as high)."""
    if moved := _MOVE.search(element.attrib.get("transform", "")):
        dx, dy = dx + float(moved[1]), dy + float(moved[2])
    found: list[Box] = []
    if element.tag == f"{SPACE}text":
        text, size = element.text or "", float(element.attrib["font-size"])
        wide = size * sum(0.6 if c < "\u2000" or c in "…×“”" else 1.0 for c in text)
        shift = {"middle": wide / 2, "end": wide}.get(element.attrib.get("text-anchor", ""), 0.0)
        x, y = float(element.attrib["x"]) + dx - shift, float(element.attrib["y"]) + dy
        found.append((x, y - size * 0.73, x + wide, y + size * 0.05, text))
    for child in element:
        found += words(child, dx, dy)
    return found


def texts(root: ElementTree.Element) -> list[str]:
    """All lines of text."""
    return [element.text or "" for element in root.iter(f"{SPACE}text")]


@pytest.mark.slow
@given(st.lists(ANY_EVENT, min_size=1, max_size=70), st.sampled_from(list(CodeForm)))
def test_any_events(tables: TableSet, sequence: list[CodeEvent], form: CodeForm) -> None:
    """Markup, control characters, halves of characters, wild times and counts."""
    table = {
        CodeForm.HEX: "edk2",
        CodeForm.BEEPS: "generic-beeps",
        CodeForm.LAMPS: "generic-lamps",
        CodeForm.STATES: "redfish-boot-progress",
    }
    drawn(timeline(sequence, tables, table.get(form, "ipmi-firmware"), form))


@pytest.mark.slow
@given(st.lists(st.sampled_from(FULL.split()), min_size=1, max_size=120), st.floats(0.001, 100), st.integers(0, 2**32))
def test_any_sequence_with_times(tables: TableSet, codes: list[str], step: float, seed: int) -> None:
    """Uneven gaps squeeze some codes; their labels spread and the lines still lead to them."""
    at, sequence = 0.0, []
    for k, code in enumerate(codes):
        at += step * (seed >> (k % 32) & 1)
        sequence.append(CodeEvent(code, at=at))
    drawn(timeline(sequence, tables))


SIZES: dict[str, Callable[[], Sequence[CodeEvent]]] = {
    "one code": lambda: events("10"),
    "one code with its time": lambda: events("10", at=[5.0]),
    "two codes": lambda: events("10 53"),
    "one that says nothing": lambda: events("00"),
    "a whole start": lambda: events(FULL),
    "a whole start with times": lambda: events(FULL, at=[k * 0.1 for k in range(41)]),
    "all at one time": lambda: events(FULL, at=[7.0] * 41),
    "a last one just after": lambda: events(FULL, at=[0.0] * 40 + [1e-12]),
    "a short loop": lambda: events(ROUND * 7),
    "rounds that stay longer": lambda: events("10 11 1D 21*2 10 11 1D 21*5 10 11 1D 21*9"),
    "a hundred thousand codes": lambda: [CodeEvent(f"{k * 7919 % 65536:04X}") for k in range(100_000)],
    "a hundred thousand with times": lambda: [CodeEvent(f"{k * 7919 % 256:02X}", at=k / 7) for k in range(100_000)],
    "a loop of a hundred thousand": lambda: events(ROUND * 16_667),
}
"""Made when they are needed: some are large."""


@pytest.mark.slow
@pytest.mark.parametrize("name", SIZES)
def test_sizes(tables: TableSet, name: str) -> None:
    """One code, two, a whole start-up, a loop, a hundred thousand codes; no times, equal ones, known ones."""
    drawn(timeline(SIZES[name](), tables))


def test_stop_and_loop_are_told_in_words(tables: TableSet) -> None:
    """Not by signs alone."""
    stop = texts(drawn(timeline(events("10 11 1D 1E 53"), tables)))
    assert {"Stopped at 53: memory", "stopped at 53", "the start-up stopped here", "!53", "an error code"} <= set(stop)
    loop = texts(drawn(timeline(events(ROUND * 7), tables)))
    assert {"7", "times", "Loop: 7 times the same round, up to 21.", "Boots 2 to 6: all 5 like boot 1"} <= set(loop)


def test_phases_are_told_by_letter_and_pattern(tables: TableSet) -> None:
    """Each phase has its letter on the band or under its first code, and a fill of its own."""
    at = [0, 0.001, 0.002, 0.003, 0.004, 20]
    root = drawn(timeline(events("10 11 1D 1E 31 60", at=at), tables))
    assert {"(P)", "(M)", "L after memory", "10 s"} <= set(texts(root))
    fills = {element.attrib["fill"] for element in root.iter(f"{SPACE}rect") if element.attrib["fill"].startswith("url")}
    patterns = {f"url(#{element.attrib['id']})" for element in root.iter(f"{SPACE}pattern")}
    assert fills == patterns
    assert len(patterns) == 4
    shapes = {"".join(ElementTree.tostring(c, "unicode") for c in list(p)[1:]) for p in root.iter(f"{SPACE}pattern")}
    assert len(shapes) == 4


def test_axis_has_seconds_only_when_times_are_known(tables: TableSet) -> None:
    """Without them nothing on the picture is a second."""
    known = texts(drawn(timeline(events("10 11 1D 53", at=[0, 1, 2, 4]), tables)))
    assert {"0 s", "1 s", "4 s"} <= set(known)
    waits = texts(drawn(timeline(events("10 11 1D 53 10 11 1D 53", at=[0, 1, 2, 3, 903, 904, 905, 906]), tables)))
    assert {"15 min", "a long wait, drawn short"} <= set(waits)
    assert not any(re.fullmatch(r"[\d.]+ m?s", text) for text in texts(drawn(timeline(events("10 11 1D 53"), tables))))


@pytest.mark.slow
@given(st.text(max_size=40), st.lists(st.tuples(st.text(max_size=20), st.lists(st.text(max_size=40), max_size=4)), max_size=3))
def test_page_escapes_everything(tables: TableSet, title: str, sections: list[tuple[str, list[str]]]) -> None:
    """Outside the doctype and two tags without an end the page is XML, so that it can be parsed and what was given counted."""
    page = timeline_html(timeline(events("10 11 1D 53"), tables), title, sections)
    strict = re.sub(r"<(meta [^>]*)>", r"<\1/>", page.removeprefix("<!doctype html>\n"))
    root = ElementTree.fromstring(strict)
    assert len(root.findall(".//h2")) == len(sections)
    assert len(root.findall(".//li")) == sum(len(lines) for _, lines in sections)
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e\ud800-\udfff]", page)


@pytest.mark.slow
@given(
    st.lists(st.tuples(st.floats(-50, 950), st.floats(5, 90)), max_size=40).map(lambda labels: sorted(labels)),
    st.sampled_from([1, 2]),
)
def test_spread(labels: list[tuple[float, float]], lanes: int) -> None:
    """In order, apart, inside; None only without room."""
    wanted, widths = [x for x, _ in labels], [w for _, w in labels]
    found = spread_labels(wanted, widths, 0.0, 900.0, 6.0, lanes)
    if found is None:
        assert sum(widths) + 6.0 * len(widths) > 900 / 2
        return
    assert found == sorted(found)
    for lane in range(lanes):
        pairs = itertools.pairwise(list(zip(found, widths, strict=True))[lane::lanes])
        assert all(b - a >= (v + w) / 2 + 6 - 1e-6 for (a, v), (b, w) in pairs)
    for below in range(1, len(found), 2) if lanes == 2 else []:
        near = [above for above in (below - 1, below + 1) if above < len(found)]
        assert all(abs(found[below] - found[above]) >= widths[above] / 2 + 3 - 1e-6 for above in near)
    assert all(w / 2 - 1e-6 <= x <= 900 - w / 2 + 1e-6 for x, w in zip(found, widths, strict=True))
