"""What a printed page holds: rectangles, lines and single lines of text, in points from the top left corner."""

from __future__ import annotations

from dataclasses import dataclass

PAPER_SIZES = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
"""Width and height of the papers: ISO 216 A4 is 210 x 297 mm, letter 8.5 x 11 inches; a point is 1/72 inch."""
ASCENT, DESCENT = 0.8, 0.22
"""How far letters reach above and below their line, as a share of their size."""
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A rectangle. `stroke`: width of its line, 0 for none; `fill`: a grey from 0 black to 1 white, or None."""

    x: float
    y: float
    width: float
    height: float
    stroke: float = 0.8
    fill: float | None = None
    dash: Point | None = None
    corner: float = 0.0


@dataclass(frozen=True, slots=True)
class Polyline:
    """A line through points. `dash`: drawn and empty lengths; `closed`: back to its beginning."""

    points: tuple[Point, ...]
    stroke: float = 0.8
    dash: Point | None = None
    closed: bool = False


@dataclass(frozen=True, slots=True)
class TextLine:
    """One line of text, its left end on the base line at (x, y); `width` as measured."""

    x: float
    y: float
    text: str
    size: float
    width: float
    bold: bool = False


Item = Rectangle | Polyline | TextLine


@dataclass(frozen=True, slots=True)
class Page:
    """A page and what is on it, in the order in which it is drawn; `title`: of the page, `name`: of what it belongs to."""

    title: str
    name: str
    width: float
    height: float
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Area:
    """A part of a page."""

    x: float
    y: float
    width: float
    height: float

    @property
    def bottom(self) -> float:
        """Its lower edge."""
        return self.y + self.height


def bounds(text: TextLine) -> Area:
    """The room that a line of text takes."""
    return Area(text.x, text.y - ASCENT * text.size, text.width, (ASCENT + DESCENT) * text.size)


def moved(item: Item, dx: float, dy: float) -> Item:
    """The item at another place."""
    if isinstance(item, Rectangle):
        return Rectangle(item.x + dx, item.y + dy, item.width, item.height, item.stroke, item.fill, item.dash, item.corner)
    if isinstance(item, Polyline):
        return Polyline(tuple((x + dx, y + dy) for x, y in item.points), item.stroke, item.dash, item.closed)
    return TextLine(item.x + dx, item.y + dy, item.text, item.size, item.width, item.bold)
