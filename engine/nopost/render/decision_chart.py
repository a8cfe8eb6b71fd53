"""The decision chart on paper: cautions first, then the tree from left to right, on as many pages as it takes.

A tree that is larger than a page is cut into pieces, each with a number under which it goes on.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from nopost.knowledge.model import Knowledge
from nopost.render.chart_boxes import LABEL, SHAPES, BoxFitter, BoxTree, ChartBox, caution_blocks, drawn_box
from nopost.render.decision_tree import ChartNode, ChartNodeKind
from nopost.render.page_layout import ColumnLayout, Imprint, LayoutBlock, PaperSheet, text_section, with_head_and_foot
from nopost.render.scene import Area, Item, Page, Polyline
from nopost.render.typesetting import LEADING, FontMetrics, TextRow, TextStyle, height_of, set_rows, wrapped

Pointer = Callable[[str], ChartBox]


@dataclass(frozen=True, slots=True)
class TreePiece:
    """A part of the tree that fits a page, and its number; the first is 0."""

    number: int
    tree: BoxTree


class TreeCutter:
    """Cuts a tree into pieces of at most so many columns and points of height."""

    def __init__(self, columns: int, height: float, pointer: Pointer, further: tuple[TextRow, ...] = ()) -> None:
        """`further`: the label over a box that points to the rest of the answers."""
        self.columns, self.height, self.pointer, self.further = columns, height, pointer, further
        self._waiting: deque[tuple[int, BoxTree]] = deque()
        self._count = 0

    def pieces(self, root: BoxTree) -> list[TreePiece]:
        """The root's piece first, then the others, numbered in the order in which they are pointed at."""
        self._waiting.append((0, root))
        done = []
        while self._waiting:
            number, tree = self._waiting.popleft()
            done.append(TreePiece(number, self._shallow(self._trimmed(tree, self.height), self.columns)))
        return _in_reading_order(done)

    def _stub(self, tree: BoxTree) -> BoxTree:
        """A box that points to the tree, which waits for a place of its own."""
        self._count += 1
        self._waiting.append((self._count, replace(tree, label=())))
        return self._pointing(tree, self._count)

    def _pointing(self, tree: BoxTree, number: int) -> BoxTree:
        return BoxTree(tree.label, self.pointer(f"Go on at {number}, page 000"), number=number, path=tree.path).with_children(())

    def _shallow(self, tree: BoxTree, columns: int) -> BoxTree:
        """Without what would need more columns."""
        if not tree.children:
            return tree
        children = [self._stub(c) if c.children and columns == 2 else self._shallow(c, columns - 1) for c in tree.children]
        return tree.with_children(children)

    def _trimmed(self, tree: BoxTree, height: float) -> BoxTree:
        """The tree no higher than this: the highest branches go on elsewhere, and then those that do not fit at all."""
        tree = self._split(tree, height)
        while tree.height > height:
            k = max(range(len(tree.children)), key=lambda c: (tree.children[c].height, -c))
            tallest = tree.children[k]
            room = height - (tree.height - tallest.height)
            inside = bool(tallest.children) and self._least(tallest) <= room
            small = self._trimmed(tallest, room) if inside else self._stub(tallest)
            tree = tree.with_children([*tree.children[:k], small, *tree.children[k + 1 :]])
        return tree

    def _least(self, tree: BoxTree) -> float:
        """Height when everything that follows goes on elsewhere."""
        return max(tree.own_height, sum(self._short(child) for child in tree.children))

    def _short(self, child: BoxTree) -> float:
        return min(child.height, self._pointing(child, 0).height) if child.children else child.own_height

    def _split(self, tree: BoxTree, height: float) -> BoxTree:
        """With only as many answers as fit, and a box that points to the others."""
        if not tree.children or self._least(tree) <= height:
            return tree
        rest = self._pointing(replace(tree, label=self.further), 0).height
        kept, total = 1, self._short(tree.children[0]) + rest
        while kept < len(tree.children) - 1 and total + self._short(tree.children[kept]) <= height:
            total += self._short(tree.children[kept])
            kept += 1
        further = tree.with_children(tree.children[kept:])
        return tree.with_children([*tree.children[:kept], self._stub(replace(further, label=self.further))])


def _in_reading_order(pieces: Sequence[TreePiece]) -> list[TreePiece]:
    """Numbered anew, as a reader meets the pointers."""
    trees = {piece.number: piece.tree for piece in pieces}
    met, waiting = {0: 0}, deque([0])
    while waiting:
        for mark in pointed_numbers(trees[waiting.popleft()]):
            met[mark] = len(met)
            waiting.append(mark)
    return [TreePiece(new, _renumbered(trees[old], met)) for old, new in met.items()]


def _renumbered(tree: BoxTree, met: Mapping[int, int]) -> BoxTree:
    return replace(tree, number=met[tree.number], children=tuple(_renumbered(child, met) for child in tree.children))


def pointed_numbers(tree: BoxTree) -> Iterator[int]:
    """The numbers that a piece points to, from the top down."""
    if tree.number:
        yield tree.number
    for child in tree.children:
        yield from pointed_numbers(child)


def packed_on_pages(pieces: Sequence[TreePiece], height_of: Callable[[TreePiece], float], room: float) -> list[list[TreePiece]]:
    """Pieces by page, in their order, as many on a page as its room holds."""
    pages: list[list[TreePiece]] = []
    left = 0.0
    for piece in pieces:
        if not pages or height_of(piece) > left:
            pages.append([])
            left = room
        pages[-1].append(piece)
        left -= height_of(piece)
    return pages


COLUMNS, GUTTER = 3, 16.0
CAPTION = TextStyle(9.0, bold=True)
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

    def __init__(self, knowledge: Knowledge, root: ChartNode, metrics: FontMetrics, sheet: PaperSheet) -> None:
        self.knowledge, self.root, self.metrics, self.sheet = knowledge, root, metrics, sheet
        self.area = sheet.body
        self.width = (self.area.width - (COLUMNS - 1) * GUTTER) / COLUMNS
        self.room = self.area.height - _ROOM_FOR_CAPTION
        self.fitter = BoxFitter(metrics, knowledge.hazards, self.width, self.room * 0.6)

    def pages(self, imprint: Imprint) -> list[Page]:
        """All pages."""
        first = self._first_pages()
        tree = self.fitter.tree(self.root)
        further = wrapped(self.metrics, "Further answers", LABEL, self.width, most=1)
        pieces = TreeCutter(COLUMNS, self.room, self.fitter.pointer, further).pieces(tree)
        sheets = packed_on_pages(pieces, self._piece_height, self.area.height)
        page_of = {piece.number: page for page, some in enumerate(sheets, start=len(first) + 1) for piece in some}
        comes_from = {mark: page_of[piece.number] for piece in pieces for mark in pointed_numbers(piece.tree)}
        bodies = [list(self._body(some, page_of, comes_from)) for some in sheets]
        return with_head_and_foot(self.metrics, self.sheet, "Decision chart", imprint, [*first, *bodies])

    def _first_pages(self) -> list[list[Item]]:
        """What the boxes mean, and all cautions of the chart in full."""
        names = list(dict.fromkeys(_hazards(self.root)))
        flow = ColumnLayout(self.area, 2)
        blocks = text_section(self.metrics, "How to read it", _GUIDE, flow.width)
        blocks += self._key(flow.width)
        return flow.pages([*blocks, *caution_blocks(self.metrics, self.knowledge, names, flow.width, "Read these first")])

    def _key(self, width: float) -> Iterator[LayoutBlock]:
        """One box of each kind."""
        meanings = {
            ChartNodeKind.ASK: "look, listen or remember; answers follow",
            ChartNodeKind.DO: f"do it, then see whether {self.knowledge.base.words.it_works}",
            ChartNodeKind.SHOP: "from here a repair workshop costs less",
            ChartNodeKind.STOP: "nothing more with power",
            ChartNodeKind.END: "what is likeliest then, and the next step",
            ChartNodeKind.STARTS: f"{self.knowledge.base.words.it_works}, or the chart goes on at a number",
        }
        for kind in SHAPES:
            fitter = BoxFitter(self.metrics, {}, width, self.room)
            box = fitter.box(ChartNode(kind, meanings[kind]))
            yield LayoutBlock(box.height + 5, tuple(drawn_box(self.metrics, box, Area(0, 0, width, box.height))))

    def _caption(self, piece: TreePiece, came: int) -> tuple[TextRow, ...]:
        if not piece.number:
            return ()
        recent = piece.tree.path[-_RECENT:]
        so_far = "; ".join((*(["..."] if len(piece.tree.path) > _RECENT else []), *recent)) or "further answers"
        text = f"{piece.number} (from page {came}): {so_far}"
        return wrapped(self.metrics, text, CAPTION, self.area.width, most=_CAPTION_ROWS)

    def _piece_height(self, piece: TreePiece) -> float:
        caption = self._caption(piece, 999)
        return piece.tree.height + (height_of(caption) + _ABOVE + 6 if caption else 0.0)

    def _body(self, pieces: Sequence[TreePiece], page_of: Mapping[int, int], comes_from: Mapping[int, int]) -> Iterator[Item]:
        """Pieces one under the other, each under its caption."""
        y = self.area.y
        for k, piece in enumerate(pieces):
            caption = self._caption(piece, comes_from.get(piece.number, 0))
            if k:
                yield Polyline(((self.area.x, y), (self.area.x + self.area.width, y)), 0.5, (1.0, 2.0))
            yield from set_rows(self.metrics, caption, self.area.x, y + _ABOVE)
            above = self._piece_height(piece) - piece.tree.height
            yield from self._tree_items(piece.tree, 0, y + above, page_of)
            y += self._piece_height(piece)

    def _tree_items(self, tree: BoxTree, column: int, y: float, page_of: Mapping[int, int]) -> Iterator[Item]:
        """The box under its answer, lines to those that follow, and these."""
        x = self.area.x + column * (self.width + GUTTER)
        yield from set_rows(self.metrics, tree.label, x, y)
        if tree.loose:
            return
        place = self._place(tree, x, y)
        box = self.fitter.pointer(f"Go on at {tree.number}, page {page_of[tree.number]}") if tree.number else tree.box
        yield from drawn_box(self.metrics, box, place)
        entries, top = [], y
        for child in tree.children:
            if not child.loose:
                inner = self._place(child, x + self.width + GUTTER, top)
                entries.append((inner.x, inner.y + _entry(inner)))
            yield from self._tree_items(child, column + 1, top, page_of)
            top += child.height
        yield from _lines((x + self.width, place.y + _entry(place)), entries)

    def _place(self, tree: BoxTree, x: float, y: float) -> Area:
        return Area(x, y + tree.above, self.width, tree.box.height)


def _entry(place: Area) -> float:
    return min(_ENTRY, place.height / 2)


def _lines(start: tuple[float, float], entries: Sequence[tuple[float, float]]) -> Iterator[Polyline]:
    """From a box to the boxes that follow, along one upright line."""
    if not entries:
        return
    trunk = start[0] + GUTTER / 2
    heights = [start[1], *(y for _, y in entries)]
    yield Polyline((start, (trunk, start[1])))
    yield Polyline(((trunk, min(heights)), (trunk, max(heights))))
    for x, y in entries:
        yield Polyline(((trunk, y), (x, y)))


def _hazards(node: ChartNode) -> Iterator[str]:
    yield from node.hazards
    for branch in node.branches:
        yield from _hazards(branch.node)
