"""Signs of a seven-segment display, and what it may have shown when a person noted something else.

Segments: a top, b upper right, c lower right, d bottom, e lower left, f upper left, g middle; patterns of the signs as such
displays show them, with small b and d (common practice, no source). Two ways to go wrong: a sign taken for another that looks
like it, and one segment that no longer lights, the same in every sign.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import product

PATTERNS = {
    "0": "abcdef",
    "1": "bc",
    "2": "abdeg",
    "3": "abcdg",
    "4": "bcfg",
    "5": "acdfg",
    "6": "acdefg",
    "7": "abc",
    "8": "abcdefg",
    "9": "abcdfg",
    "A": "abcefg",
    "B": "cdefg",
    "C": "adef",
    "D": "bcdeg",
    "E": "adefg",
    "F": "aefg",
}
"""Lit segments of each sign."""
LIT = {sign: frozenset(segments) for sign, segments in PATTERNS.items()}
ALIKE = frozenset(
    frozenset(pair)
    for pair in ("6B", "8B", "0D", "17", "3E", "5S", "2Z", "9G", "0O", "1I", "1L", "69", "56", "08", "0C", "EF", "CE")
)
"""Signs that people take for each other, by shape or when they write them down (common practice, no source)."""
CONFUSED = 0.5
"""Distance of such a pair; of others it is the number of segments that differ."""
FARTHEST = 2.0
"""Alternatives farther away are not considered."""
DEAD = 1.0
"""Distance of one dead segment, however many signs it spoils."""


def distance(seen: str, shown: str) -> float:
    """Between two signs; a letter that no display shows has only the signs it looks like."""
    if seen == shown:
        return 0.0
    if frozenset((seen, shown)) in ALIKE:
        return CONFUSED
    if seen in LIT and shown in LIT:
        return float(len(LIT[seen] ^ LIT[shown]))
    return math.inf


def misreadings(code: str) -> list[tuple[str, float]]:
    """(code that may have been shown, distance), nearest first: signs mistaken, and one segment dead in all signs."""
    signs = code.strip().upper()
    if not 0 < len(signs) <= 8:
        return []
    best = dict(_mistaken(signs))
    for _, shown in _dead(signs):
        best[shown] = min(DEAD, best.get(shown, DEAD))
    best.pop(signs, None)
    return sorted(best.items(), key=lambda pair: (pair[1], pair[0]))


def _mistaken(signs: str) -> Iterable[tuple[str, float]]:
    """Whole codes within the farthest distance, built sign by sign."""
    partial = {"": 0.0}
    for seen in signs:
        step = [(shown, d) for shown in PATTERNS if (d := distance(seen, shown)) <= FARTHEST]
        partial = {head + shown: far + d for head, far in partial.items() for shown, d in step if far + d <= FARTHEST}
    return partial.items()


def _dead(signs: str) -> Iterable[tuple[str, str]]:
    """(segment, code) for each segment that no sign has lit, and each code that would look like this without it."""
    if not set(signs) <= set(LIT):
        return
    for segment in "abcdefg":
        choices = [with_segment(sign, segment) for sign in signs]
        if not any(segment in LIT[sign] for sign in signs):
            yield from ((segment, "".join(shown)) for shown in product(*choices))


def with_segment(sign: str, segment: str) -> list[str]:
    """The sign itself, and the one that has this segment besides."""
    return [sign, *(other for other, lit in LIT.items() if lit == LIT[sign] | {segment} and other != sign)]
