"""The reliability diagram: how often what was said with so much confidence was right (Murphy & Winkler, Reliability of subjective
probability forecasts, Applied Statistics 26, 1977). Dots on the diagonal are worth what they say; one above it was too modest,
one below too sure. A dot's area is in proportion to its cases, and its whisker holds 90 of 100."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from nopost.evaluation.calibration import ReliabilityBin
from nopost.evaluation.learning import beta_interval
from nopost.render.svg import INK, SOFT, document, element, polyline, text_at

SIDE, LEFT, TOP, BOTTOM = 300.0, 62.0, 44.0, 52.0
TICKS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
LARGEST = 13.0
"""Radius of the dot with the most cases."""
FILLS = (INK, "none", SOFT)
"""Of the series in their order."""
SHIFT = 5.0
"""How far the dots of one series stand from those of the next, so that whiskers can be told apart."""


def reliability_diagram(title: str, series: Mapping[str, Sequence[ReliabilityBin]]) -> str:
    """An SVG document.

    Args:
        title: what was scored.
        series: name -> bins that hold anything, at most three series.

    Raises ValueError for more series, or for none with a bin.
    """
    most = max((row.count for rows in series.values() for row in rows), default=0)
    if not most or len(series) > len(FILLS):
        raise ValueError("one to three series with at least one bin")
    body = [*_axes(), *_legend(series)]
    for place, (rows, fill) in enumerate(zip(series.values(), FILLS, strict=False)):
        for row in rows:
            body += _dot(row, fill, most, (place - (len(series) - 1) / 2) * SHIFT)
    said = "; ".join(f"{name}: {', '.join(map(_in_words, rows))}" for name, rows in series.items())
    head = text_at(LEFT, 18, title, 13, font_weight="bold")
    width, height = LEFT + SIDE + 24, TOP + SIDE + BOTTOM
    return document(width, height, title, [head, *body], description=said, font_family="sans-serif", fill=INK)


def _in_words(row: ReliabilityBin) -> str:
    return f"said {100 * row.confidence:.0f} %, right {100 * row.right:.0f} % of {row.count:.0f}"


def _at(said: float, right: float) -> tuple[float, float]:
    """The point of a confidence and a share that was right."""
    return LEFT + SIDE * said, TOP + SIDE * (1 - right)


def _axes() -> list[str]:
    drawn = [
        polyline([_at(0, 0), _at(1, 0), _at(1, 1), _at(0, 1)], closed=True, stroke=SOFT, stroke_width=1),
        polyline([_at(0, 0), _at(1, 1)], stroke=SOFT, stroke_width=1, stroke_dasharray="4 4"),
    ]
    for tick in TICKS:
        (x, bottom), (left, y) = _at(tick, 0), _at(0, tick)
        drawn += [
            text_at(x, bottom + 16, f"{100 * tick:.0f}", 11, text_anchor="middle"),
            text_at(left - 8, y + 4, f"{100 * tick:.0f}", 11, text_anchor="end"),
        ]
    across, down = _at(0.5, 0), _at(0, 0.5)
    drawn.append(text_at(across[0], across[1] + 36, "said of the first cause, %", 12, text_anchor="middle"))
    upright = f"rotate(-90 {20:g} {down[1]:g})"
    drawn.append(text_at(20, down[1], "right, %", 12, text_anchor="middle", transform=upright))
    return drawn


def _legend(series: Mapping[str, Sequence[ReliabilityBin]]) -> list[str]:
    drawn = []
    for place, (name, rows) in enumerate(series.items()):
        x, y = LEFT + 14, TOP + 16 + 18 * place
        cases = sum(row.count for row in rows)
        drawn += [
            element("circle", cx=x, cy=y, r=5.0, fill=FILLS[place], stroke=INK),
            text_at(x + 12, y + 4, f"{name} ({cases:.0f} cases)", 11),
        ]
    return drawn


def _dot(row: ReliabilityBin, fill: str, most: float, shift: float) -> list[str]:
    """The dot of a bin and its whisker: the central 90 % of what the share may be, uniform before the cases were counted."""
    right = row.count * row.right
    low, high = beta_interval(right + 1, row.count - right + 1)
    x, y = _at(row.confidence, row.right)
    ends = [(x + shift, _at(0, end)[1]) for end in (low, high)]
    radius = LARGEST * math.sqrt(row.count / most)
    return [
        polyline(ends, stroke_width=1),
        element("circle", cx=x + shift, cy=y, r=max(radius, 2.0), fill=fill, fill_opacity=0.75, stroke=INK),
    ]
