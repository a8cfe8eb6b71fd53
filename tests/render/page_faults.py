"""What is wrong with a page: overlaps, text outside its box, anything in the margins, text too small or measured wrongly."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise

from nopost.render.page_layout import EDGE
from nopost.render.scene import Area, Page, Polyline, Rectangle, TextLine, bounds
from nopost.render.typesetting import FontMetrics

SLACK = 0.35
"""Points that may be lost to rounding and to the width of a line."""
SMALLEST = 8.0


def faults(page: Page, metrics: FontMetrics) -> list[str]:
    """Every fault in words."""
    texts = [item for item in page.items if isinstance(item, TextLine)]
    frames = [Area(f.x, f.y, f.width, f.height) for f in page.items if isinstance(f, Rectangle)]
    lines = [item for item in page.items if isinstance(item, Polyline)]
    return [
        *_outside(page),
        *_texts(texts, metrics),
        *_frames(frames),
        *_texts_in_frames(texts, frames),
        *_lines_through(texts, lines),
    ]


def _outside(page: Page) -> Iterator[str]:
    for item in page.items:
        corners = item.points if isinstance(item, Polyline) else _corners(bounds(item) if isinstance(item, TextLine) else item)
        for x, y in corners:
            if not (EDGE - 2 <= x <= page.width - EDGE + 2 and EDGE - 2 <= y <= page.height - EDGE + 2):
                yield f"in the margin: {item}"
                break


def _corners(area: Area | Rectangle) -> tuple[tuple[float, float], ...]:
    return ((area.x, area.y), (area.x + area.width, area.y + area.height))


def _texts(texts: list[TextLine], metrics: FontMetrics) -> Iterator[str]:
    for text in texts:
        if text.size < SMALLEST:
            yield f"too small: {text}"
        if abs(text.width - metrics.width(text.text, text.size, text.bold)) > 1e-6 or metrics.renderable(text.text) != text.text:
            yield f"not as measured: {text}"
    for one, two in combinations(texts, 2):
        if overlap(bounds(one), bounds(two)):
            yield f"text over text: {one.text!r} {two.text!r}"


def _frames(frames: list[Area]) -> Iterator[str]:
    for one, two in combinations(frames, 2):
        if overlap(one, two) and not inside(one, two) and not inside(two, one):
            yield f"frames cross: {one} {two}"


def _texts_in_frames(texts: list[TextLine], frames: list[Area]) -> Iterator[str]:
    for text in texts:
        for frame in frames:
            if overlap(bounds(text), frame) and not inside(bounds(text), frame):
                yield f"text across a frame: {text.text!r} {frame}"


def _lines_through(texts: list[TextLine], lines: list[Polyline]) -> Iterator[str]:
    for text in texts:
        area = bounds(text)
        for line in lines:
            ends = (*line.points, line.points[0]) if line.closed else line.points
            if any(_hits(one, two, area) for one, two in pairwise(ends)):
                yield f"a line through {text.text!r}"


def _hits(one: tuple[float, float], two: tuple[float, float], area: Area) -> bool:
    """Whether a straight line meets the inside of an area (Liang & Barsky 1984)."""
    first, last = 0.0, 1.0
    dx, dy = two[0] - one[0], two[1] - one[1]
    left, right = area.x + SLACK, area.x + area.width - SLACK
    top, bottom = area.y + SLACK, area.bottom - SLACK
    for p, q in ((-dx, one[0] - left), (dx, right - one[0]), (-dy, one[1] - top), (dy, bottom - one[1])):
        if p == 0:
            if q <= 0:
                return False
        elif p < 0:
            first = max(first, q / p)
        else:
            last = min(last, q / p)
    return first < last


def overlap(one: Area, two: Area) -> bool:
    """Whether they share more than an edge."""
    wide = min(one.x + one.width, two.x + two.width) - max(one.x, two.x)
    high = min(one.bottom, two.bottom) - max(one.y, two.y)
    return wide > SLACK and high > SLACK


def inside(inner: Area, outer: Area) -> bool:
    """Whether one lies in the other."""
    return (
        inner.x >= outer.x - SLACK
        and inner.y >= outer.y - SLACK
        and inner.x + inner.width <= outer.x + outer.width + SLACK
        and inner.bottom <= outer.bottom + SLACK
    )
