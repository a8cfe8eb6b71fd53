"""Blocks that flow through the columns of pages."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nopost.charts.letters import Metrics
from nopost.charts.scene import Area, Item, Line, moved
from nopost.charts.setting import Row, Style, height_of, set_rows, wrapped

HEADING, BODY, NOTE, STRONG = Style(10.0, bold=True), Style(8.5), Style(8.0), Style(8.5, bold=True)
COLUMN_GAP = 18.0


@dataclass(frozen=True, slots=True)
class Block:
    """Items from (0, 0) down that stay together; `stays`: it is not the last of a column."""

    height: float
    items: tuple[Item, ...] = ()
    stays: bool = False


class Flow:
    """Columns of equal width in an area."""

    def __init__(self, area: Area, columns: int = 1) -> None:
        self.area, self.columns = area, columns
        self.width = (area.width - (columns - 1) * COLUMN_GAP) / columns

    def pages(self, blocks: Sequence[Block], head: Block | None = None) -> list[list[Item]]:
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


def _groups(blocks: Iterable[Block]) -> list[list[Block]]:
    """Blocks with those that must stay before them."""
    groups: list[list[Block]] = [[]]
    for block in blocks:
        groups[-1].append(block)
        if not block.stays:
            groups.append([])
    return [group for group in groups if group]


def row_blocks(metrics: Metrics, rows: Sequence[Row], after: float = 0.0, before: float = 0.0) -> list[Block]:
    """Each row a block, so that long text flows on; the first two and the last two rows stay together."""
    blocks = []
    for k, row in enumerate(rows):
        lead = before if k == 0 else 0.0
        stays = len(rows) > 1 and (k == 0 or k == len(rows) - 2)
        items = tuple(set_rows(metrics, [row], 0.0, lead))
        blocks.append(Block(lead + row.height + (after if k == len(rows) - 1 else 0.0), items, stays))
    return blocks


def heading(metrics: Metrics, text: str, width: float) -> Block:
    """The head of a section, with a line under it; what follows stays with it."""
    rows = wrapped(metrics, text, HEADING, width, most=3)
    height = height_of(rows)
    rule = Line(((0.0, height + 6), (width, height + 6)), 0.6)
    return Block(height + 10, (*set_rows(metrics, rows, 0.0, 5.0), rule), stays=True)


def words(metrics: Metrics, title: str, text: str, width: float) -> list[Block]:
    """A section of running text; nothing when there is none."""
    rows = wrapped(metrics, text, BODY, width)
    return [heading(metrics, title, width), *row_blocks(metrics, rows, after=4.0)] if text.strip() else []
