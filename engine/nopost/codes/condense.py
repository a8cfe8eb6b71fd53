"""Make a long row of codes short enough to draw: what matters keeps its place, stretches between become one piece each."""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from nopost.codes.phase_words import SEVERAL

FIRM, WRONG, TURN, LONG, PLAIN = range(5)
"""How much a piece matters: ends and the stopping point, error codes, first of a phase, long stays, all others."""
ROUNDS = 5
"""So often codes must come round to be drawn as one."""
LONGEST = 4
"""So many of the longest stays are kept."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A code, or several drawn as one (`code` empty).

    `count`: how many codes it stands for. `seconds`: how long it stood, None when not known. `stop`: here the start-up
    stopped. `matters`: see above, the smaller the more.
    """

    phase: str
    code: str
    count: int = 1
    seconds: float | None = None
    error: bool = False
    stop: bool = False
    matters: int = PLAIN

    @property
    def label(self) -> str:
        """What is written at it."""
        if not self.code:
            return f"+{self.count:,}"
        return f"{self.code}×{self.count:,}" if self.count > 1 else self.code


def weighed(pieces: Sequence[Piece]) -> list[int]:
    """How much each piece matters."""
    weights = []
    for i, piece in enumerate(pieces):
        turn = i > 0 and piece.phase != pieces[i - 1].phase
        firm = piece.stop or i in (0, len(pieces) - 1)
        weights.append(FIRM if firm else WRONG if piece.error else TURN if turn else PLAIN)
    stays = heapq.nlargest(LONGEST, ((p.seconds, i) for i, p in enumerate(pieces) if p.seconds))
    for seconds, i in stays:
        if seconds >= 3 * sum(p.seconds or 0.0 for p in pieces) / len(pieces):
            weights[i] = min(weights[i], LONG)
    return weights


def condensed(pieces: Sequence[Piece], most: int) -> list[Piece]:
    """At most `most` pieces (7 or more): codes that only alternate are joined, then what matters stays single, and no more are
    joined than need be. With each how much it matters."""
    shorter = _joined(pieces, _alternating(pieces))
    weights = weighed(shorter)
    weighted = [replace(piece, matters=weight) for piece, weight in zip(shorter, weights, strict=True)]
    if len(weighted) <= most:
        return weighted
    kept = sorted(range(len(weighted)), key=lambda i: (weights[i], i))[: most // 2 - 1]
    edges = [-1, *sorted(i for i in kept if weights[i] < PLAIN), len(weighted)]
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


def _alternating(pieces: Sequence[Piece]) -> dict[int, int]:
    """Stretches in which two to four codes only come round again and again, but for a round at each end: start, length."""
    found: dict[int, int] = {}
    i = 0
    while i < len(pieces):
        for period in (2, 3, 4):
            end = i + period
            while end < len(pieces) and _same(pieces[end], pieces[end - period]):
                end += 1
            if end - i >= ROUNDS * period:
                found[i + period] = end - i - 2 * period
                i = end - period
                break
        i += 1
    return found


def _same(one: Piece, other: Piece) -> bool:
    return one.code == other.code and one.phase == other.phase and not one.error


def _joined(pieces: Sequence[Piece], joined: Mapping[int, int]) -> list[Piece]:
    found: list[Piece] = []
    i = 0
    while i < len(pieces):
        length = joined.get(i, 1)
        found.append(_one(pieces[i : i + length]) if length > 1 else pieces[i])
        i += length
    return found


def _one(pieces: Sequence[Piece]) -> Piece:
    phases = {piece.phase for piece in pieces}
    times = [piece.seconds for piece in pieces if piece.seconds is not None]
    return Piece(
        phase=phases.pop() if len(phases) == 1 else SEVERAL,
        code="",
        count=sum(piece.count for piece in pieces),
        seconds=sum(times) if len(times) == len(pieces) else None,
        error=any(piece.error for piece in pieces),
        matters=LONG,
    )
