"""The boxes of the decision chart: what stands in them, and their shape, which tells their kind in black and white."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from nopost.charts.decision import Kind, Spot, percent
from nopost.charts.letters import Metrics
from nopost.charts.scene import Area, Frame, Item, Line
from nopost.charts.setting import Row, Style, height_of, set_rows, wrapped
from nopost.knowledge.model import Hazard

TITLE, NOTE, LABEL, SIGN, WARN = Style(9.0, bold=True), Style(8.5), Style(8.5), Style(8.5, bold=True), Style(8.5, bold=True)
PAD, GAP, SIGN_ROOM = 4.0, 8.0, 13.0
WORDS = {
    Kind.ASK: "Question",
    Kind.DO: "Fix",
    Kind.SHOP: "Workshop",
    Kind.STOP: "Stop",
    Kind.END: "End of this chart",
    Kind.STARTS: "Done",
}
NAMELESS = "Caution"
SEE = "more, see the cautions page"
_MOST_TITLE, _MOST_NOTE, _MOST_LABEL, _MOST_CAUTION = 7, 3, 4, 30


@dataclass(frozen=True, slots=True)
class Shape:
    """How a box is framed; `double`: a second frame inside."""

    stroke: float
    corner: float = 0.0
    fill: float = 1.0
    dash: tuple[float, float] | None = None
    double: bool = False


SHAPES = {
    Kind.ASK: Shape(0.8, corner=6.0),
    Kind.DO: Shape(1.8),
    Kind.SHOP: Shape(0.8, double=True),
    Kind.STOP: Shape(3.0),
    Kind.END: Shape(0.8, dash=(3.0, 2.0)),
    Kind.STARTS: Shape(0.8, corner=6.0, fill=0.9),
}


@dataclass(frozen=True, slots=True)
class Box:
    """Rows of text under cautions that have their sign."""

    kind: Kind
    cautions: tuple[tuple[Row, ...], ...]
    rows: tuple[Row, ...]

    @property
    def height(self) -> float:
        """Points."""
        return height_of(self.rows) + sum(map(height_of, self.cautions)) + 2 * PAD + (4 if self.cautions else 0)


@dataclass(frozen=True, slots=True)
class Cell:
    """A box under its answer, with the cells that follow it; `number`: it goes on elsewhere, under this number."""

    label: tuple[Row, ...]
    box: Box
    children: tuple[Cell, ...] = ()
    height: float = 0.0
    number: int = 0
    path: tuple[str, ...] = ()
    loose: bool = False

    @property
    def above(self) -> float:
        """The room of the label."""
        return height_of(self.label) + (1.5 if self.label else 0.0)

    @property
    def own_height(self) -> float:
        """Without what follows."""
        return self.above + (0.0 if self.loose else self.box.height) + GAP

    def with_children(self, children: Sequence[Cell]) -> Cell:
        """The cell before these, its height counted."""
        height = max(self.own_height, sum(child.height for child in children))
        return replace(self, children=tuple(children), height=height)


class Fitter:
    """Sets the boxes of a chart in columns of one width."""

    def __init__(self, metrics: Metrics, hazards: Mapping[str, Hazard], width: float, most_height: float) -> None:
        self.metrics, self.hazards, self.width, self.most_height = metrics, hazards, width, most_height

    def cell(self, spot: Spot, label: str = "", path: tuple[str, ...] = ()) -> Cell:
        """A box with everything that follows."""
        children = [self.cell(b.spot, f"{percent(b.probability)} · {b.label}", (*path, b.label)) for b in spot.branches]
        if spot.left_out:
            words = "; ".join(spot.left_out)
            rows = self._rows(f"{percent(spot.left_share)} · left out: {words}", LABEL, _MOST_LABEL)
            children.append(Cell(rows, self.box(Spot(Kind.END, "")), loose=True).with_children(()))
        return Cell(self._rows(label, LABEL, _MOST_LABEL), self.box(spot), path=path).with_children(children)

    def box(self, spot: Spot) -> Box:
        """The fullest form of a box that is not too high."""
        boxes = list(self._forms(spot))
        return next((box for box in boxes if box.height <= self.most_height), boxes[-1])

    def pointer(self, text: str) -> Box:
        """A box that says where it goes on."""
        return Box(Kind.STARTS, (), self._rows(text, SIGN, 2, 2 * PAD))

    def _forms(self, spot: Spot) -> Iterator[Box]:
        rows = [*self._rows(WORDS[spot.kind], NOTE, 1, 2 * PAD), *self._rows(spot.title, TITLE, _MOST_TITLE, 2 * PAD)]
        for note in spot.notes:
            rows += self._rows(note, NOTE, _MOST_NOTE, 2 * PAD)
        names = [self.hazards[name].title for name in spot.hazards if name in self.hazards]
        if spot.kind is Kind.STOP:
            yield Box(spot.kind, tuple(map(self._caution_in_full, spot.hazards)), tuple(rows))
        for most in (3, 1):
            yield Box(spot.kind, tuple(self._caution(name, most) for name in names), tuple(rows))
        few = [*names[:4], f"{len(names) - 4} {SEE}"] if len(names) > 4 else names
        yield Box(spot.kind, tuple(self._caution(name, 1) for name in few), tuple(rows))

    def _caution(self, title: str, most: int) -> tuple[Row, ...]:
        return self._rows(title.strip() or NAMELESS, WARN, most, 2 * PAD + SIGN_ROOM)

    def _caution_in_full(self, name: str) -> tuple[Row, ...]:
        """The whole caution of a hazard that stops the work, the title of another."""
        hazard = self.hazards[name]
        if not hazard.stop:
            return self._caution(hazard.title, 3)
        return (*self._caution(hazard.title, 3), *self._rows(hazard.caution, NOTE, _MOST_CAUTION, 2 * PAD + SIGN_ROOM))

    def _rows(self, text: str, style: Style, most: int, less: float = 0.0) -> tuple[Row, ...]:
        return wrapped(self.metrics, text, style, self.width - less, most)


def drawn_box(metrics: Metrics, box: Box, place: Area) -> list[Item]:
    """Frame, cautions with their signs, a rule, and the rows."""
    shape = SHAPES[box.kind]
    items: list[Item] = [
        Frame(place.x, place.y, place.width, place.height, shape.stroke, shape.fill, shape.dash, shape.corner),
    ]
    if shape.double:
        items.append(Frame(place.x + 2, place.y + 2, place.width - 4, place.height - 4, 0.5))
    y = place.y + PAD
    for rows in box.cautions:
        items += [*sign(place.x + PAD, y), *set_rows(metrics, rows, place.x + PAD + SIGN_ROOM, y)]
        y += height_of(rows)
    if box.cautions:
        items.append(Line(((place.x + PAD, y + 1.5), (place.x + place.width - PAD, y + 1.5)), 0.5))
        y += 4
    return [*items, *set_rows(metrics, box.rows, place.x + PAD, y)]


def sign(x: float, y: float) -> list[Item]:
    """The warning sign, 10 wide and 9.5 high: a triangle with an exclamation mark (the form of ISO 7010 W001)."""
    mark = Line(((x + 5, y + 3.4), (x + 5, y + 6.6)), 1.2)
    dot = Line(((x + 5, y + 7.4), (x + 5, y + 8.5)), 1.2)
    return [Line(((x + 5, y + 0.4), (x + 9.8, y + 9.4), (x + 0.2, y + 9.4)), 1.0, closed=True), mark, dot]
