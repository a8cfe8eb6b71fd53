"""The decision chart on paper: cautions first, then the tree from left to right, on as many pages as it takes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from nopost.charts.boxes import LABEL, SHAPES, Cell, Fitter, drawn_box
from nopost.charts.cautions import caution_blocks
from nopost.charts.cutting import Cutter, Piece, marks, packed
from nopost.charts.decision import Kind, Spot
from nopost.charts.flow import Block, Flow, words
from nopost.charts.letters import Metrics
from nopost.charts.scene import Area, Item, Line, Page
from nopost.charts.setting import LEADING, Row, Style, height_of, set_rows, wrapped
from nopost.charts.sheet import Imprint, Sheet, dressed
from nopost.knowledge.model import Knowledge

COLUMNS, GUTTER = 3, 16.0
CAPTION = Style(9.0, bold=True)
_ENTRY = 10.0
_RECENT = 3
"""So many of the last answers stand over a part of the tree that goes on."""
_ABOVE, _CAPTION_ROWS = 5.0, 2
_ROOM_FOR_CAPTION = _CAPTION_ROWS * CAPTION.size * LEADING + _ABOVE + 6
_GUIDE = (
    "Begin at the left. Answer the question, follow the line to the box under your answer, and read the cautions with the "
    "warning sign before you do anything. A percentage says how many of the machines that come to a box go on that way. When "
    "your answer is left out, or you cannot tell, use the program: the paper knows only the usual ways."
)


class DecisionChart:
    """The tree of one knowledge base, set for a sheet."""

    def __init__(self, knowledge: Knowledge, root: Spot, metrics: Metrics, sheet: Sheet) -> None:
        self.knowledge, self.root, self.metrics, self.sheet = knowledge, root, metrics, sheet
        self.area = sheet.body
        self.width = (self.area.width - (COLUMNS - 1) * GUTTER) / COLUMNS
        self.room = self.area.height - _ROOM_FOR_CAPTION
        self.fitter = Fitter(metrics, knowledge.hazards, self.width, self.room * 0.6)

    def pages(self, imprint: Imprint) -> list[Page]:
        """All pages."""
        first = self._first_pages()
        cell = self.fitter.cell(self.root)
        further = wrapped(self.metrics, "Further answers", LABEL, self.width, most=1)
        pieces = Cutter(COLUMNS, self.room, self.fitter.pointer, further).pieces(cell)
        sheets = packed(pieces, self._piece_height, self.area.height)
        page_of = {piece.number: page for page, some in enumerate(sheets, start=len(first) + 1) for piece in some}
        comes_from = {mark: page_of[piece.number] for piece in pieces for mark in marks(piece.cell)}
        bodies = [list(self._body(some, page_of, comes_from)) for some in sheets]
        return dressed(self.metrics, self.sheet, "Decision chart", imprint, [*first, *bodies])

    def _first_pages(self) -> list[list[Item]]:
        """What the boxes mean, and all cautions of the chart in full."""
        names = list(dict.fromkeys(_hazards(self.root)))
        flow = Flow(self.area, 2)
        blocks = words(self.metrics, "How to read it", _GUIDE, flow.width)
        blocks += self._key(flow.width)
        return flow.pages([*blocks, *caution_blocks(self.metrics, self.knowledge, names, flow.width, "Read these first")])

    def _key(self, width: float) -> Iterator[Block]:
        """One box of each kind."""
        meanings = {
            Kind.ASK: "look, listen or remember; answers follow",
            Kind.DO: f"do it, then see whether {self.knowledge.base.words.it_works}",
            Kind.SHOP: "from here a repair workshop costs less",
            Kind.STOP: "nothing more with power",
            Kind.END: "what is likeliest then, and the next step",
            Kind.STARTS: f"{self.knowledge.base.words.it_works}, or the chart goes on at a number",
        }
        for kind in SHAPES:
            fitter = Fitter(self.metrics, {}, width, self.room)
            box = fitter.box(Spot(kind, meanings[kind]))
            yield Block(box.height + 5, tuple(drawn_box(self.metrics, box, Area(0, 0, width, box.height))))

    def _caption(self, piece: Piece, came: int) -> tuple[Row, ...]:
        if not piece.number:
            return ()
        recent = piece.cell.path[-_RECENT:]
        so_far = "; ".join((*(["..."] if len(piece.cell.path) > _RECENT else []), *recent)) or "further answers"
        text = f"{piece.number} (from page {came}): {so_far}"
        return wrapped(self.metrics, text, CAPTION, self.area.width, most=_CAPTION_ROWS)

    def _piece_height(self, piece: Piece) -> float:
        caption = self._caption(piece, 999)
        return piece.cell.height + (height_of(caption) + _ABOVE + 6 if caption else 0.0)

    def _body(self, pieces: Sequence[Piece], page_of: Mapping[int, int], comes_from: Mapping[int, int]) -> Iterator[Item]:
        """Pieces one under the other, each under its caption."""
        y = self.area.y
        for k, piece in enumerate(pieces):
            caption = self._caption(piece, comes_from.get(piece.number, 0))
            if k:
                yield Line(((self.area.x, y), (self.area.x + self.area.width, y)), 0.5, (1.0, 2.0))
            yield from set_rows(self.metrics, caption, self.area.x, y + _ABOVE)
            above = self._piece_height(piece) - piece.cell.height
            yield from self._cell(piece.cell, 0, y + above, page_of)
            y += self._piece_height(piece)

    def _cell(self, cell: Cell, column: int, y: float, page_of: Mapping[int, int]) -> Iterator[Item]:
        """The box under its answer, lines to those that follow, and these."""
        x = self.area.x + column * (self.width + GUTTER)
        yield from set_rows(self.metrics, cell.label, x, y)
        if cell.loose:
            return
        place = self._place(cell, x, y)
        box = self.fitter.pointer(f"Go on at {cell.number}, page {page_of[cell.number]}") if cell.number else cell.box
        yield from drawn_box(self.metrics, box, place)
        entries, top = [], y
        for child in cell.children:
            if not child.loose:
                inner = self._place(child, x + self.width + GUTTER, top)
                entries.append((inner.x, inner.y + _entry(inner)))
            yield from self._cell(child, column + 1, top, page_of)
            top += child.height
        yield from _lines((x + self.width, place.y + _entry(place)), entries)

    def _place(self, cell: Cell, x: float, y: float) -> Area:
        return Area(x, y + cell.above, self.width, cell.box.height)


def _entry(place: Area) -> float:
    return min(_ENTRY, place.height / 2)


def _lines(start: tuple[float, float], entries: Sequence[tuple[float, float]]) -> Iterator[Line]:
    """From a box to the boxes that follow, along one upright line."""
    if not entries:
        return
    trunk = start[0] + GUTTER / 2
    heights = [start[1], *(y for _, y in entries)]
    yield Line((start, (trunk, start[1])))
    yield Line(((trunk, min(heights)), (trunk, max(heights))))
    for x, y in entries:
        yield Line(((trunk, y), (x, y)))


def _hazards(spot: Spot) -> Iterator[str]:
    yield from spot.hazards
    for branch in spot.branches:
        yield from _hazards(branch.spot)
