"""A tree that is larger than a page in pieces, each with a number under which it goes on."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from nopost.charts.boxes import Box, Cell
from nopost.charts.setting import Row

Pointer = Callable[[str], Box]


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of the tree that fits a page, and its number; the first is 0."""

    number: int
    cell: Cell


class Cutter:
    """Cuts a tree into pieces of at most so many columns and points of height."""

    def __init__(self, columns: int, height: float, pointer: Pointer, further: tuple[Row, ...] = ()) -> None:
        """`further`: the label over a box that points to the rest of the answers."""
        self.columns, self.height, self.pointer, self.further = columns, height, pointer, further
        self._waiting: deque[tuple[int, Cell]] = deque()
        self._count = 0

    def pieces(self, root: Cell) -> list[Piece]:
        """The root's piece first, then the others, numbered in the order in which they are pointed at."""
        self._waiting.append((0, root))
        done = []
        while self._waiting:
            number, cell = self._waiting.popleft()
            done.append(Piece(number, self._shallow(self._trimmed(cell, self.height), self.columns)))
        return _in_order(done)

    def _stub(self, cell: Cell) -> Cell:
        """A box that points to the cell, which waits for a place of its own."""
        self._count += 1
        self._waiting.append((self._count, replace(cell, label=())))
        return self._pointing(cell, self._count)

    def _pointing(self, cell: Cell, number: int) -> Cell:
        return Cell(cell.label, self.pointer(f"Go on at {number}, page 000"), number=number, path=cell.path).with_children(())

    def _shallow(self, cell: Cell, columns: int) -> Cell:
        """Without what would need more columns."""
        if not cell.children:
            return cell
        children = [self._stub(c) if c.children and columns == 2 else self._shallow(c, columns - 1) for c in cell.children]
        return cell.with_children(children)

    def _trimmed(self, cell: Cell, height: float) -> Cell:
        """The cell no higher than this: the highest branches go on elsewhere, and then those that do not fit at all."""
        cell = self._split(cell, height)
        while cell.height > height:
            k = max(range(len(cell.children)), key=lambda c: (cell.children[c].height, -c))
            tallest = cell.children[k]
            room = height - (cell.height - tallest.height)
            inside = bool(tallest.children) and self._least(tallest) <= room
            small = self._trimmed(tallest, room) if inside else self._stub(tallest)
            cell = cell.with_children([*cell.children[:k], small, *cell.children[k + 1 :]])
        return cell

    def _least(self, cell: Cell) -> float:
        """Height when everything that follows goes on elsewhere."""
        return max(cell.own_height, sum(self._short(child) for child in cell.children))

    def _short(self, child: Cell) -> float:
        return min(child.height, self._pointing(child, 0).height) if child.children else child.own_height

    def _split(self, cell: Cell, height: float) -> Cell:
        """With only as many answers as fit, and a box that points to the others."""
        if not cell.children or self._least(cell) <= height:
            return cell
        rest = self._pointing(replace(cell, label=self.further), 0).height
        kept, total = 1, self._short(cell.children[0]) + rest
        while kept < len(cell.children) - 1 and total + self._short(cell.children[kept]) <= height:
            total += self._short(cell.children[kept])
            kept += 1
        further = cell.with_children(cell.children[kept:])
        return cell.with_children([*cell.children[:kept], self._stub(replace(further, label=self.further))])


def _in_order(pieces: Sequence[Piece]) -> list[Piece]:
    """Numbered anew, as a reader meets the pointers."""
    cells = {piece.number: piece.cell for piece in pieces}
    met, waiting = {0: 0}, deque([0])
    while waiting:
        for mark in marks(cells[waiting.popleft()]):
            met[mark] = len(met)
            waiting.append(mark)
    return [Piece(new, _renumbered(cells[old], met)) for old, new in met.items()]


def _renumbered(cell: Cell, met: Mapping[int, int]) -> Cell:
    return replace(cell, number=met[cell.number], children=tuple(_renumbered(child, met) for child in cell.children))


def marks(cell: Cell) -> Iterator[int]:
    """The numbers that a piece points to, from the top down."""
    if cell.number:
        yield cell.number
    for child in cell.children:
        yield from marks(child)


def packed(pieces: Sequence[Piece], height_of: Callable[[Piece], float], room: float) -> list[list[Piece]]:
    """Pieces by page, in their order, as many on a page as its room holds."""
    pages: list[list[Piece]] = []
    left = 0.0
    for piece in pieces:
        if not pages or height_of(piece) > left:
            pages.append([])
            left = room
        pages[-1].append(piece)
        left -= height_of(piece)
    return pages
