"""The SVG writer of all drawings: a scene as one document, and small pieces for drawings that build their own.

Text can do no harm and stays text; there are its width, boxes and lines, and places for
labels along a line that never lie over each other. A scene is set in the viewer's own sans-serif font.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from nopost.render.page import escaped, without_controls
from nopost.render.scene import Item, Page, Point, Polyline, Rectangle, TextLine


def svg_of(page: Page) -> str:
    """The page as one document, its size in points."""
    size = f'width="{page.width:g}pt" height="{page.height:g}pt" viewBox="0 0 {page.width:g} {page.height:g}"'
    lines = [f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="sans-serif" fill="#000">']
    lines.append(f"<title>{escaped(page.title)}</title>")
    lines.append(f'<rect width="{page.width:g}" height="{page.height:g}" fill="#fff"/>')
    lines += [_drawn(item) for item in page.items]
    return "\n".join([*lines, "</svg>", ""])


def _drawn(item: Item) -> str:
    if isinstance(item, Rectangle):
        return _frame(item)
    return _line(item) if isinstance(item, Polyline) else _text(item)


def _frame(frame: Rectangle) -> str:
    place = f'x="{frame.x:.2f}" y="{frame.y:.2f}" width="{frame.width:.2f}" height="{frame.height:.2f}"'
    corner = f' rx="{frame.corner:g}"' if frame.corner else ""
    grey = "none" if frame.fill is None else f"#{round(255 * frame.fill):02x}" + f"{round(255 * frame.fill):02x}" * 2
    return f'<rect {place}{corner} fill="{grey}"{_stroke(frame.stroke, frame.dash)}/>'


def _line(line: Polyline) -> str:
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in line.points)
    shape = "polygon" if line.closed else "polyline"
    return f'<{shape} points="{points}" fill="none"{_stroke(line.stroke, line.dash)}/>'


def _text(text: TextLine) -> str:
    bold = ' font-weight="bold"' if text.bold else ""
    return f'<text x="{text.x:.2f}" y="{text.y:.2f}" font-size="{text.size:g}"{bold}>{escaped(text.text)}</text>'


def _stroke(width: float, dash: Point | None) -> str:
    if not width:
        return ""
    dashes = f' stroke-dasharray="{dash[0]:g} {dash[1]:g}"' if dash else ""
    return f' stroke="#000" stroke-width="{width:g}"{dashes}'


LabelDistance = tuple[int, int, float]
"""Two labels, the left one first, and how far apart their middles must be at least."""


def spread_labels(
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


def _push_right(places: list[float], apart: Sequence[LabelDistance]) -> None:
    for i, j, distance in apart:
        places[j] = max(places[j], places[i] + distance)


def _push_left(places: list[float], apart: Sequence[LabelDistance]) -> None:
    for i, j, distance in reversed(apart):
        places[i] = min(places[i], places[j] - distance)


def _distances(widths: Sequence[float], space: float, lanes: int) -> list[LabelDistance]:
    """Which labels must keep apart, in order of the right one."""
    found: list[LabelDistance] = []
    for j in range(1, len(widths)):
        if lanes == 1:
            found.append((j - 1, j, (widths[j - 1] + widths[j]) / 2 + space))
            continue
        if j > 1:
            found.append((j - 2, j, (widths[j - 2] + widths[j]) / 2 + space))
        upper = j - 1 if (j - 1) % 2 == 0 else j
        found.append((j - 1, j, widths[upper] / 2 + space / 2))
    return found


INK, SOFT, PAPER = "#111", "#555", "#fff"
MONO = "ui-monospace, monospace"
MONO_SHARE = 0.605
"""Width of a letter of even width, as a share of its size."""


def text_width(text: str, size: float, share: float = MONO_SHARE) -> float:
    """How wide text is, rather too wide; `share` of the size for a usual letter, more for broad and for foreign ones."""
    broad = 1.0 if share == MONO_SHARE else 1.5
    return size * sum(
        (share * (broad if c in "mwMW" else 1.0)) if " " <= c < "\u2000" or c in "…–×“”" else 1.1 for c in without_controls(text)
    )


def text_at(x: float, y: float, text: str, size: float, more: str = "") -> str:
    """A line of text; `more`: further attributes."""
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}"{" " + more if more else ""}>{escaped(text)}</text>'


def rectangle(x: float, y: float, width: float, height: float, more: str) -> str:
    """A rectangle."""
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" {more}/>'


def polyline(points: Iterable[tuple[float, float]], more: str = "") -> str:
    """A line through points."""
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polyline points="{path}" fill="none" stroke="{INK}" {more}/>'
