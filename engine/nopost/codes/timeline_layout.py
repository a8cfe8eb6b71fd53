"""Fit the codes of a boot to the width of a timeline: join what matters least into one piece, then place the pieces.

What matters keeps its place; stretches between become one piece each. Places follow time where that is known throughout,
else position.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

from nopost.codes.code_events import SEVERAL_PHASES


class Importance(IntEnum):
    """Why a piece of a boot is drawn singly; the smaller, the later it is left out when there is no room."""

    ENDPOINT = 0
    """The first piece, the last one, and where the start-up stopped."""
    ERROR = 1
    PHASE_CHANGE = 2
    """The first piece of a phase."""
    LONG_STAY = 3
    PLAIN = 4


ROUNDS_TO_JOIN = 5
"""So often codes must come round to be drawn as one."""
LONG_STAYS = 4
"""So many of the longest stays are kept."""


@dataclass(frozen=True, slots=True)
class TimelinePiece:
    """A code, or several drawn as one (`code` empty).

    `count`: how many codes it stands for. `seconds`: how long it stood, None when not known. `stop`: here the start-up
    stopped.
    """

    phase: str
    code: str
    count: int = 1
    seconds: float | None = None
    error: bool = False
    stop: bool = False
    importance: Importance = Importance.PLAIN

    @property
    def label(self) -> str:
        """What is written at it."""
        if not self.code:
            return f"+{self.count:,}"
        return f"{self.code}×{self.count:,}" if self.count > 1 else self.code


def importance_of(pieces: Sequence[TimelinePiece]) -> list[Importance]:
    """The importance of each piece among its neighbours."""
    found = []
    for i, piece in enumerate(pieces):
        if piece.stop or i in (0, len(pieces) - 1):
            found.append(Importance.ENDPOINT)
        elif piece.error:
            found.append(Importance.ERROR)
        else:
            found.append(Importance.PHASE_CHANGE if piece.phase != pieces[i - 1].phase else Importance.PLAIN)
    stays = heapq.nlargest(LONG_STAYS, ((p.seconds, i) for i, p in enumerate(pieces) if p.seconds))
    for seconds, i in stays:
        if seconds >= 3 * sum(p.seconds or 0.0 for p in pieces) / len(pieces):
            found[i] = min(found[i], Importance.LONG_STAY)
    return found


def condensed(pieces: Sequence[TimelinePiece], most: int) -> list[TimelinePiece]:
    """At most `most` pieces (7 or more): codes that only alternate are joined, then what matters stays single, and no more are
    joined than need be. Each with its importance."""
    shorter = _joined(pieces, _alternating(pieces))
    ranks = importance_of(shorter)
    weighted = [replace(piece, importance=rank) for piece, rank in zip(shorter, ranks, strict=True)]
    if len(weighted) <= most:
        return weighted
    kept = sorted(range(len(weighted)), key=lambda i: (ranks[i], i))[: most // 2 - 1]
    edges = [-1, *sorted(i for i in kept if ranks[i] < Importance.PLAIN), len(weighted)]
    gaps = sorted(((b - a - 1, a + 1) for a, b in itertools.pairwise(edges) if b - a > 2), reverse=True)
    joined: dict[int, int] = {}
    surplus = len(weighted) - most
    for length, start in gaps:
        if surplus <= 0:
            break
        taken = min(length, surplus + 1)
        joined[start + (length - taken) // 2] = taken
        surplus -= taken - 1
    return _joined(weighted, joined)


def _alternating(pieces: Sequence[TimelinePiece]) -> dict[int, int]:
    """Stretches in which two to four codes only come round again and again, but for a round at each end: start, length."""
    found: dict[int, int] = {}
    i = 0
    while i < len(pieces):
        for period in (2, 3, 4):
            end = i + period
            while end < len(pieces) and _same(pieces[end], pieces[end - period]):
                end += 1
            if end - i >= ROUNDS_TO_JOIN * period:
                found[i + period] = end - i - 2 * period
                i = end - period
                break
        i += 1
    return found


def _same(one: TimelinePiece, other: TimelinePiece) -> bool:
    return one.code == other.code and one.phase == other.phase and not one.error


def _joined(pieces: Sequence[TimelinePiece], joined: Mapping[int, int]) -> list[TimelinePiece]:
    found: list[TimelinePiece] = []
    i = 0
    while i < len(pieces):
        length = joined.get(i, 1)
        found.append(_one(pieces[i : i + length]) if length > 1 else pieces[i])
        i += length
    return found


def _one(pieces: Sequence[TimelinePiece]) -> TimelinePiece:
    phases = {piece.phase for piece in pieces}
    times = [piece.seconds for piece in pieces if piece.seconds is not None]
    return TimelinePiece(
        phase=phases.pop() if len(phases) == 1 else SEVERAL_PHASES,
        code="",
        count=sum(piece.count for piece in pieces),
        seconds=sum(times) if len(times) == len(pieces) else None,
        error=any(piece.error for piece in pieces),
        importance=Importance.LONG_STAY,
    )


@dataclass(frozen=True, slots=True)
class TimelineSegment:
    """A piece at its place. `start` and `width`: shares of the drawing's width. `cut`: it stood longer than its width
    says."""

    piece: TimelinePiece
    start: float
    width: float
    cut: bool = False


@dataclass(frozen=True, slots=True)
class TimeScale:
    """Seconds to width: the longest way from first to last code, and the whole width with what came after the last code."""

    longest: float
    whole: float

    def tail(self, seconds: float | None) -> float:
        """Seconds drawn for a last code: as it stood, when that can be seen and leaves room for the rest."""
        if seconds is None:
            return self.longest * 0.05
        return max(seconds, self.longest * 0.02) if seconds <= self.longest * 0.5 else self.longest * 0.25

    def placed(self, pieces: Sequence[TimelinePiece]) -> tuple[TimelineSegment, ...]:
        """The segments of a boot."""
        found, at = [], 0.0
        for i, piece in enumerate(pieces):
            final = i == len(pieces) - 1
            length = self.tail(piece.seconds) if final else piece.seconds or 0.0
            cut = final and piece.seconds is not None and piece.seconds > length
            found.append(TimelineSegment(piece, at / self.whole, length / self.whole, cut))
            at += length
        return tuple(found)


def time_scale_of(boots: Sequence[Sequence[TimelinePiece]]) -> TimeScale | None:
    """None when times are not known throughout, or all equal."""
    if any(piece.seconds is None for pieces in boots for piece in pieces[:-1]):
        return None
    ways = [sum(piece.seconds or 0.0 for piece in pieces[:-1]) for pieces in boots]
    longest = max(ways, default=0.0)
    if not 1e-9 < longest < 1e12:
        return None
    scale = TimeScale(longest, 0.0)
    whole = max(way + scale.tail(pieces[-1].seconds) for way, pieces in zip(ways, boots, strict=True))
    return TimeScale(longest, whole)


def by_position(pieces: Sequence[TimelinePiece], most: int) -> tuple[TimelineSegment, ...]:
    """Equal widths, the same for all boots; few codes do not fill the row."""
    width = 1 / max(most, 7)
    return tuple(TimelineSegment(piece, i * width, width) for i, piece in enumerate(pieces))
