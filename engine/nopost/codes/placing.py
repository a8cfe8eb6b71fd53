"""Where the pieces of a timeline lie: by time when that is known throughout, else by position."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nopost.codes.condense import Piece


@dataclass(frozen=True, slots=True)
class Segment:
    """A piece at its place. `start` and `width`: shares of the drawing's width. `cut`: it stood longer than its width
    says."""

    piece: Piece
    start: float
    width: float
    cut: bool = False


@dataclass(frozen=True, slots=True)
class Scale:
    """Seconds to width: the longest way from first to last code, and the whole width with what came after the last code."""

    longest: float
    whole: float

    def tail(self, seconds: float | None) -> float:
        """Seconds drawn for a last code: as it stood, when that can be seen and leaves room for the rest."""
        if seconds is None:
            return self.longest * 0.05
        return max(seconds, self.longest * 0.02) if seconds <= self.longest * 0.5 else self.longest * 0.25

    def placed(self, pieces: Sequence[Piece]) -> tuple[Segment, ...]:
        """The segments of a boot."""
        found, at = [], 0.0
        for i, piece in enumerate(pieces):
            final = i == len(pieces) - 1
            length = self.tail(piece.seconds) if final else piece.seconds or 0.0
            cut = final and piece.seconds is not None and piece.seconds > length
            found.append(Segment(piece, at / self.whole, length / self.whole, cut))
            at += length
        return tuple(found)


def scale_of(boots: Sequence[Sequence[Piece]]) -> Scale | None:
    """None when times are not known throughout, or all equal."""
    if any(piece.seconds is None for pieces in boots for piece in pieces[:-1]):
        return None
    ways = [sum(piece.seconds or 0.0 for piece in pieces[:-1]) for pieces in boots]
    longest = max(ways, default=0.0)
    if not 1e-9 < longest < 1e12:
        return None
    scale = Scale(longest, 0.0)
    whole = max(way + scale.tail(pieces[-1].seconds) for way, pieces in zip(ways, boots, strict=True))
    return Scale(longest, whole)


def by_position(pieces: Sequence[Piece], most: int) -> tuple[Segment, ...]:
    """Equal widths, the same for all boots; few codes do not fill the row."""
    width = 1 / max(most, 7)
    return tuple(Segment(piece, i * width, width) for i, piece in enumerate(pieces))
