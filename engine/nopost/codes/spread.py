"""Places for labels along a line: in order, none over another, each as near to what it belongs to as the others allow."""

from __future__ import annotations

from collections.abc import Sequence

Distance = tuple[int, int, float]
"""Two labels, the left one first, and how far apart their middles must be at least."""


def spread(
    wanted: Sequence[float], widths: Sequence[float], left: float, right: float, space: float, lanes: int
) -> list[float] | None:
    """Middles of the labels between `left` and `right`, or None when there is no room; label i stands in lane i % lanes, of
    one or two. With two lanes the line that leads to a label of the lower one passes between two of the upper one.

    The labels pushed to the right as far as needed are one answer, pushed to the left another; both keep the distances, and so
    does the mean of the two.
    """
    apart = _distances(widths, space, lanes)
    lows, highs = [left + w / 2 for w in widths], [right - w / 2 for w in widths]
    rightward = [max(x, low) for x, low in zip(wanted, lows, strict=True)]
    _push_right(rightward, apart)
    rightward = [min(x, high) for x, high in zip(rightward, highs, strict=True)]
    _push_left(rightward, apart)
    if any(x < low - 1e-6 for x, low in zip(rightward, lows, strict=True)):
        return None
    leftward = [min(x, high) for x, high in zip(wanted, highs, strict=True)]
    _push_left(leftward, apart)
    leftward = [max(x, low) for x, low in zip(leftward, lows, strict=True)]
    _push_right(leftward, apart)
    return [(a + b) / 2 for a, b in zip(leftward, rightward, strict=True)]


def _push_right(places: list[float], apart: Sequence[Distance]) -> None:
    for i, j, distance in apart:
        places[j] = max(places[j], places[i] + distance)


def _push_left(places: list[float], apart: Sequence[Distance]) -> None:
    for i, j, distance in reversed(apart):
        places[i] = min(places[i], places[j] - distance)


def _distances(widths: Sequence[float], space: float, lanes: int) -> list[Distance]:
    """Which labels must keep apart, in order of the right one."""
    found: list[Distance] = []
    for j in range(1, len(widths)):
        if lanes == 1:
            found.append((j - 1, j, (widths[j - 1] + widths[j]) / 2 + space))
            continue
        if j > 1:
            found.append((j - 2, j, (widths[j - 2] + widths[j]) / 2 + space))
        upper = j - 1 if (j - 1) % 2 == 0 else j
        found.append((j - 1, j, widths[upper] / 2 + space / 2))
    return found
