"""The boxes of the decision chart, and cautions in full beside the warning sign.

The shape of a box tells its kind in black and white. A caution in full stands in a heavy frame; the cause page shows it the
same way.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from nopost.knowledge.model import Hazard, Knowledge
from nopost.render.decision_tree import ChartNode, ChartNodeKind
from nopost.render.page_layout import BODY, STRONG, LayoutBlock, section_heading
from nopost.render.scene import Area, Item, Polyline, Rectangle
from nopost.render.typesetting import FontMetrics, TextRow, TextStyle, height_of, percent, set_rows, wrapped

TITLE, NOTE, LABEL, SIGN, WARN = (
    TextStyle(9.0, bold=True),
    TextStyle(8.5),
    TextStyle(8.5),
    TextStyle(8.5, bold=True),
    TextStyle(8.5, bold=True),
)
PAD, GAP, SIGN_ROOM = 4.0, 8.0, 13.0
KIND_WORDS = {
    ChartNodeKind.ASK: "Question",
    ChartNodeKind.DO: "Fix",
    ChartNodeKind.SHOP: "Workshop",
    ChartNodeKind.STOP: "Stop",
    ChartNodeKind.END: "End of this chart",
    ChartNodeKind.STARTS: "Done",
}
UNTITLED_HAZARD = "Caution"
SEE_CAUTIONS_PAGE = "more, see the cautions page"
_MOST_TITLE, _MOST_NOTE, _MOST_LABEL, _MOST_CAUTION = 7, 3, 4, 30


@dataclass(frozen=True, slots=True)
class BoxShape:
    """How a box is framed; `double`: a second frame inside."""

    stroke: float
    corner: float = 0.0
    fill: float = 1.0
    dash: tuple[float, float] | None = None
    double: bool = False


SHAPES = {
    ChartNodeKind.ASK: BoxShape(0.8, corner=6.0),
    ChartNodeKind.DO: BoxShape(1.8),
    ChartNodeKind.SHOP: BoxShape(0.8, double=True),
    ChartNodeKind.STOP: BoxShape(3.0),
    ChartNodeKind.END: BoxShape(0.8, dash=(3.0, 2.0)),
    ChartNodeKind.STARTS: BoxShape(0.8, corner=6.0, fill=0.9),
}


@dataclass(frozen=True, slots=True)
class ChartBox:
    """Rows of text under cautions that have their sign."""

    kind: ChartNodeKind
    cautions: tuple[tuple[TextRow, ...], ...]
    rows: tuple[TextRow, ...]

    @property
    def height(self) -> float:
        """Points."""
        return height_of(self.rows) + sum(map(height_of, self.cautions)) + 2 * PAD + (4 if self.cautions else 0)


@dataclass(frozen=True, slots=True)
class BoxTree:
    """A box under its answer, with the trees that follow it; `number`: it goes on elsewhere, under this number."""

    label: tuple[TextRow, ...]
    box: ChartBox
    children: tuple[BoxTree, ...] = ()
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

    def with_children(self, children: Sequence[BoxTree]) -> BoxTree:
        """The tree before these, its height counted."""
        height = max(self.own_height, sum(child.height for child in children))
        return replace(self, children=tuple(children), height=height)


class BoxFitter:
    """Sets the boxes of a chart in columns of one width."""

    def __init__(self, metrics: FontMetrics, hazards: Mapping[str, Hazard], width: float, most_height: float) -> None:
        self.metrics, self.hazards, self.width, self.most_height = metrics, hazards, width, most_height

    def tree(self, node: ChartNode, label: str = "", path: tuple[str, ...] = ()) -> BoxTree:
        """A box with everything that follows."""
        children = [self.tree(b.node, f"{percent(b.probability)} · {b.label}", (*path, b.label)) for b in node.branches]
        if node.left_out:
            words = "; ".join(node.left_out)
            rows = self._rows(f"{percent(node.left_share)} · left out: {words}", LABEL, _MOST_LABEL)
            children.append(BoxTree(rows, self.box(ChartNode(ChartNodeKind.END, "")), loose=True).with_children(()))
        return BoxTree(self._rows(label, LABEL, _MOST_LABEL), self.box(node), path=path).with_children(children)

    def box(self, node: ChartNode) -> ChartBox:
        """The fullest form of a box that is not too high."""
        boxes = list(self._forms(node))
        return next((box for box in boxes if box.height <= self.most_height), boxes[-1])

    def pointer(self, text: str) -> ChartBox:
        """A box that says where it goes on."""
        return ChartBox(ChartNodeKind.STARTS, (), self._rows(text, SIGN, 2, 2 * PAD))

    def _forms(self, node: ChartNode) -> Iterator[ChartBox]:
        rows = [*self._rows(KIND_WORDS[node.kind], NOTE, 1, 2 * PAD), *self._rows(node.title, TITLE, _MOST_TITLE, 2 * PAD)]
        for note in node.notes:
            rows += self._rows(note, NOTE, _MOST_NOTE, 2 * PAD)
        names = [self.hazards[name].title for name in node.hazards if name in self.hazards]
        if node.kind is ChartNodeKind.STOP:
            yield ChartBox(node.kind, tuple(map(self._caution_in_full, node.hazards)), tuple(rows))
        for most in (3, 1):
            yield ChartBox(node.kind, tuple(self._caution(name, most) for name in names), tuple(rows))
        few = [*names[:4], f"{len(names) - 4} {SEE_CAUTIONS_PAGE}"] if len(names) > 4 else names
        yield ChartBox(node.kind, tuple(self._caution(name, 1) for name in few), tuple(rows))

    def _caution(self, title: str, most: int) -> tuple[TextRow, ...]:
        return self._rows(title.strip() or UNTITLED_HAZARD, WARN, most, 2 * PAD + SIGN_ROOM)

    def _caution_in_full(self, name: str) -> tuple[TextRow, ...]:
        """The whole caution of a hazard that stops the work, the title of another."""
        hazard = self.hazards[name]
        if not hazard.stop:
            return self._caution(hazard.title, 3)
        return (*self._caution(hazard.title, 3), *self._rows(hazard.caution, NOTE, _MOST_CAUTION, 2 * PAD + SIGN_ROOM))

    def _rows(self, text: str, style: TextStyle, most: int, less: float = 0.0) -> tuple[TextRow, ...]:
        return wrapped(self.metrics, text, style, self.width - less, most)


def drawn_box(metrics: FontMetrics, box: ChartBox, place: Area) -> list[Item]:
    """Frame, cautions with their signs, a rule, and the rows."""
    shape = SHAPES[box.kind]
    items: list[Item] = [
        Rectangle(place.x, place.y, place.width, place.height, shape.stroke, shape.fill, shape.dash, shape.corner),
    ]
    if shape.double:
        items.append(Rectangle(place.x + 2, place.y + 2, place.width - 4, place.height - 4, 0.5))
    y = place.y + PAD
    for rows in box.cautions:
        items += [*warning_sign(place.x + PAD, y), *set_rows(metrics, rows, place.x + PAD + SIGN_ROOM, y)]
        y += height_of(rows)
    if box.cautions:
        items.append(Polyline(((place.x + PAD, y + 1.5), (place.x + place.width - PAD, y + 1.5)), 0.5))
        y += 4
    return [*items, *set_rows(metrics, box.rows, place.x + PAD, y)]


def warning_sign(x: float, y: float) -> list[Item]:
    """The warning sign, 10 wide and 9.5 high: a triangle with an exclamation mark (the form of ISO 7010 W001)."""
    mark = Polyline(((x + 5, y + 3.4), (x + 5, y + 6.6)), 1.2)
    dot = Polyline(((x + 5, y + 7.4), (x + 5, y + 8.5)), 1.2)
    return [Polyline(((x + 5, y + 0.4), (x + 9.8, y + 9.4), (x + 0.2, y + 9.4)), 1.0, closed=True), mark, dot]


_CAUTION_PAD, _CAUTION_GAP = 5.0, 5.0
_MOST_ROWS_IN_A_FRAME = 24
"""A longer caution goes on in a frame of its own."""


def caution_blocks(
    metrics: FontMetrics, knowledge: Knowledge, names: Iterable[str], width: float, title: str
) -> list[LayoutBlock]:
    """A heading and a frame for each; those that stop the work first. Nothing when there is none."""
    hazards = sorted((knowledge.hazards[name] for name in names if name in knowledge.hazards), key=lambda h: not h.stop)
    inner = width - 2 * _CAUTION_PAD - SIGN_ROOM
    blocks = []
    for hazard in hazards:
        rows = (
            *wrapped(metrics, hazard.title.strip() or UNTITLED_HAZARD, STRONG, inner),
            *wrapped(metrics, hazard.caution, BODY, inner),
        )
        blocks += [_caution_frame(metrics, some, width) for some in _row_chunks(rows)]
    return [section_heading(metrics, title, width), *blocks] if blocks else []


def _row_chunks(rows: tuple[TextRow, ...]) -> Iterator[tuple[TextRow, ...]]:
    for start in range(0, len(rows), _MOST_ROWS_IN_A_FRAME):
        yield rows[start : start + _MOST_ROWS_IN_A_FRAME]


def _caution_frame(metrics: FontMetrics, rows: tuple[TextRow, ...], width: float) -> LayoutBlock:
    height = height_of(rows) + 2 * _CAUTION_PAD
    frame = Rectangle(1.0, 1.0, width - 2, height, 2.0, 1.0)
    items = (
        frame,
        *warning_sign(_CAUTION_PAD, _CAUTION_PAD + 1),
        *set_rows(metrics, rows, _CAUTION_PAD + SIGN_ROOM, _CAUTION_PAD + 1),
    )
    return LayoutBlock(height + 2 + _CAUTION_GAP, items)
