"""The paper: its size, margins, and what stands at the head and foot of each page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nopost.charts.letters import Metrics
from nopost.charts.scene import POINTS, Area, Item, Line, Page
from nopost.charts.setting import BASE, Style, right_text, set_rows, set_text, wrapped

LOCAL_CODES = "Local codes and licensed practice come first. Cautions come before every step."
SMALL = Style(8.0)
HEAD = Style(11.0, bold=True)
EDGE, BINDING = 36.0, 56.0
"""Margins: half an inch, and 20 mm where a binder wants its holes."""
_HEAD_ROOM, _FOOT_ROOM = 26.0, 20.0


@dataclass(frozen=True, slots=True)
class Imprint:
    """What every page carries: the knowledge base's name and edition, and a date if one was given."""

    name: str
    edition: str
    date: str = ""

    @property
    def line(self) -> str:
        """As one line."""
        return ", ".join(filter(None, (f"edition {self.edition}", self.date)))


@dataclass(frozen=True, slots=True)
class Sheet:
    """Upright paper of a name in POINTS; `binding`: room for holes at the left."""

    paper: str
    binding: bool = False

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in points."""
        return POINTS[self.paper]

    @property
    def inside(self) -> Area:
        """What the margins leave."""
        width, height = self.size
        left = BINDING if self.binding else EDGE
        return Area(left, EDGE, width - left - EDGE, height - 2 * EDGE)

    @property
    def body(self) -> Area:
        """What is left between head and foot."""
        inside = self.inside
        return Area(inside.x, inside.y + _HEAD_ROOM, inside.width, inside.height - _HEAD_ROOM - _FOOT_ROOM)


def dressed(
    metrics: Metrics, sheet: Sheet, title: str, imprint: Imprint, bodies: Sequence[Sequence[Item]], name: str = ""
) -> list[Page]:
    """Pages with these bodies, each with head and foot; they belong to `name`, or to their title."""
    width, height = sheet.size
    return [
        Page(
            metrics.shown(f"{name or title}, page {number} of {len(bodies)}"),
            metrics.shown(name or title),
            width,
            height,
            (*_head(metrics, sheet.inside, title, imprint), *body, *_foot(metrics, sheet.inside, number, len(bodies))),
        )
        for number, body in enumerate(bodies, start=1)
    ]


def _head(metrics: Metrics, inside: Area, title: str, imprint: Imprint) -> list[Item]:
    """Title at the left; name, edition and date at the right; a line under them."""
    half = inside.width / 2 - 6
    base = inside.y + HEAD.size
    left = wrapped(metrics, title, HEAD, half, most=1)
    right = wrapped(metrics, imprint.line, SMALL, half * 0.45, most=1)
    taken = max((metrics.width(row.text, SMALL.size) for row in right), default=0.0)
    name = wrapped(metrics, imprint.name, SMALL, half - taken - 8, most=1)
    items: list[Item] = [set_text(metrics, row.text, HEAD, inside.x, base) for row in left]
    items += [right_text(metrics, row.text, SMALL, inside.x + inside.width, base) for row in right]
    items += [right_text(metrics, row.text, SMALL, inside.x + inside.width - taken - 8, base) for row in name]
    rule = base + 6
    return [*items, Line(((inside.x, rule), (inside.x + inside.width, rule)), 1.2)]


def _foot(metrics: Metrics, inside: Area, number: int, count: int) -> list[Item]:
    """The line that comes before all advice, and the number of the page."""
    base = inside.bottom - 2
    rule = base - SMALL.size - 3
    rows = wrapped(metrics, LOCAL_CODES, SMALL, inside.width - 100, most=1)
    return [
        Line(((inside.x, rule), (inside.x + inside.width, rule)), 0.6),
        *set_rows(metrics, rows, inside.x, base - BASE * SMALL.size),
        right_text(metrics, f"Page {number} of {count}", SMALL, inside.x + inside.width, base),
    ]
