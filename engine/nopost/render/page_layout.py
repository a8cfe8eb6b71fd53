"""The layout of a printed page: paper size, margins, head and foot, and blocks that flow through its columns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nopost.render.scene import PAPER_SIZES, Area, Item, Page, Polyline, moved
from nopost.render.typesetting import (
    BASELINE,
    FontMetrics,
    TextRow,
    TextStyle,
    height_of,
    right_text,
    set_rows,
    set_text,
    wrapped,
)

HEADING, BODY, NOTE, STRONG = TextStyle(10.0, bold=True), TextStyle(8.5), TextStyle(8.0), TextStyle(8.5, bold=True)
COLUMN_GAP = 18.0


@dataclass(frozen=True, slots=True)
class LayoutBlock:
    """Items from (0, 0) down that stay together; `stays`: it is not the last of a column."""

    height: float
    items: tuple[Item, ...] = ()
    stays: bool = False


class ColumnLayout:
    """Columns of equal width in an area."""

    def __init__(self, area: Area, columns: int = 1) -> None:
        self.area, self.columns = area, columns
        self.width = (area.width - (columns - 1) * COLUMN_GAP) / columns

    def pages(self, blocks: Sequence[LayoutBlock], head: LayoutBlock | None = None) -> list[list[Item]]:
        """Items by page; `head` goes over all columns of the first page."""
        top = head.height if head else 0.0
        pages: list[list[Item]] = [[moved(item, self.area.x, self.area.y) for item in head.items] if head else []]
        column, y = 0, top
        for group in _groups(blocks):
            need = sum(block.height for block in group)
            if y > top and y + need > self.area.height + 1e-6:
                column, y = column + 1, top
                if column == self.columns:
                    column, top, y = 0, 0.0, 0.0
                    pages.append([])
            for block in group:
                x = self.area.x + column * (self.width + COLUMN_GAP)
                pages[-1] += [moved(item, x, self.area.y + y) for item in block.items]
                y += block.height
        return pages


def _groups(blocks: Iterable[LayoutBlock]) -> list[list[LayoutBlock]]:
    """Blocks with those that must stay before them."""
    groups: list[list[LayoutBlock]] = [[]]
    for block in blocks:
        groups[-1].append(block)
        if not block.stays:
            groups.append([])
    return [group for group in groups if group]


def row_blocks(metrics: FontMetrics, rows: Sequence[TextRow], after: float = 0.0, before: float = 0.0) -> list[LayoutBlock]:
    """Each row a block, so that long text flows on; the first two and the last two rows stay together."""
    blocks = []
    for k, row in enumerate(rows):
        lead = before if k == 0 else 0.0
        stays = len(rows) > 1 and (k == 0 or k == len(rows) - 2)
        items = tuple(set_rows(metrics, [row], 0.0, lead))
        blocks.append(LayoutBlock(lead + row.height + (after if k == len(rows) - 1 else 0.0), items, stays))
    return blocks


def section_heading(metrics: FontMetrics, text: str, width: float) -> LayoutBlock:
    """The head of a section, with a line under it; what follows stays with it."""
    rows = wrapped(metrics, text, HEADING, width, most=3)
    height = height_of(rows)
    rule = Polyline(((0.0, height + 6), (width, height + 6)), 0.6)
    return LayoutBlock(height + 10, (*set_rows(metrics, rows, 0.0, 5.0), rule), stays=True)


def text_section(metrics: FontMetrics, title: str, text: str, width: float) -> list[LayoutBlock]:
    """A section of running text; nothing when there is none."""
    rows = wrapped(metrics, text, BODY, width)
    return [section_heading(metrics, title, width), *row_blocks(metrics, rows, after=4.0)] if text.strip() else []


LOCAL_CODES = "Local codes and licensed practice come first. Cautions come before every step."
SMALL = TextStyle(8.0)
RUNNING_HEAD = TextStyle(11.0, bold=True)
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
class PaperSheet:
    """Upright paper of a name in POINTS; `binding`: room for holes at the left."""

    paper: str
    binding: bool = False

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in points."""
        return PAPER_SIZES[self.paper]

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


def with_head_and_foot(
    metrics: FontMetrics, sheet: PaperSheet, title: str, imprint: Imprint, bodies: Sequence[Sequence[Item]], name: str = ""
) -> list[Page]:
    """Pages with these bodies, each with head and foot; they belong to `name`, or to their title."""
    width, height = sheet.size
    return [
        Page(
            metrics.renderable(f"{name or title}, page {number} of {len(bodies)}"),
            metrics.renderable(name or title),
            width,
            height,
            (*_head(metrics, sheet.inside, title, imprint), *body, *_foot(metrics, sheet.inside, number, len(bodies))),
        )
        for number, body in enumerate(bodies, start=1)
    ]


def _head(metrics: FontMetrics, inside: Area, title: str, imprint: Imprint) -> list[Item]:
    """Title at the left; name, edition and date at the right; a line under them."""
    half = inside.width / 2 - 6
    base = inside.y + RUNNING_HEAD.size
    left = wrapped(metrics, title, RUNNING_HEAD, half, most=1)
    right = wrapped(metrics, imprint.line, SMALL, half * 0.45, most=1)
    taken = max((metrics.width(row.text, SMALL.size) for row in right), default=0.0)
    name = wrapped(metrics, imprint.name, SMALL, half - taken - 8, most=1)
    items: list[Item] = [set_text(metrics, row.text, RUNNING_HEAD, inside.x, base) for row in left]
    items += [right_text(metrics, row.text, SMALL, inside.x + inside.width, base) for row in right]
    items += [right_text(metrics, row.text, SMALL, inside.x + inside.width - taken - 8, base) for row in name]
    rule = base + 6
    return [*items, Polyline(((inside.x, rule), (inside.x + inside.width, rule)), 1.2)]


def _foot(metrics: FontMetrics, inside: Area, number: int, count: int) -> list[Item]:
    """The line that comes before all advice, and the number of the page."""
    base = inside.bottom - 2
    rule = base - SMALL.size - 3
    rows = wrapped(metrics, LOCAL_CODES, SMALL, inside.width - 100, most=1)
    return [
        Polyline(((inside.x, rule), (inside.x + inside.width, rule)), 0.6),
        *set_rows(metrics, rows, inside.x, base - BASELINE * SMALL.size),
        right_text(metrics, f"Page {number} of {count}", SMALL, inside.x + inside.width, base),
    ]
