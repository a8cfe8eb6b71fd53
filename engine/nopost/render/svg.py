"""The SVG writer of all drawings: a scene as one document, and small pieces for drawings that build their own.

Text can do no harm and stays text; there are its width, boxes and lines, fills that print in black and white, and places for
labels along a line that never lie over each other. A scene is set in the viewer's own sans-serif font.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from nopost.render.page import escaped
from nopost.render.scene import Item, Page, Point, Polyline, Rectangle, TextLine
from nopost.text import without_controls


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

_PATTERNS = {
    "sec": ("#f4efe2", '<circle cx="4" cy="4" r="1.1" fill="#111"/>'),
    "pei": ("#e4ecf5", '<path d="M-2 2L2-2M0 8L8 0M6 10L10 6" stroke="#111" stroke-width=".9"/>'),
    "memory": ("#dce9dc", '<path d="M2 0V8M6 0V8" stroke="#111" stroke-width=".9"/>'),
    "late-pei": ("#efe3f0", '<path d="M-2 6L2 10M0 0L8 8M6-2L10 2" stroke="#111" stroke-width=".9"/>'),
    "dxe": ("#fbeadb", '<path d="M0 2H8M0 6H8" stroke="#111" stroke-width=".8"/>'),
    "bds": ("#e3f1f1", '<path d="M0 0H8M0 0V8" stroke="#111" stroke-width="1.1"/>'),
    "hand-over": ("#d5d5d5", ""),
    "runtime": ("#fff", ""),
    "recovery": ("#f6dede", '<path d="M0 5L2 2 4 5 6 2 8 5" fill="none" stroke="#111" stroke-width="1.1"/>'),
    "resume": ("#f2f0d8", '<circle cx="4" cy="4" r="2.4" fill="none" stroke="#111" stroke-width=".9"/>'),
    "any": ("#fff", '<path d="M2 4H6" stroke="#111" stroke-width="1"/>'),
    "several": ("#fff", '<path d="M0 0H4V4H0ZM4 4H8V8H4Z" fill="#999"/>'),
    "": ("#fff", '<path d="M2 2L6 6M6 2L2 6" stroke="#777" stroke-width=".9"/>'),
}


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


def pattern_name(phase: str) -> str:
    """The fill of a phase."""
    return f"url(#phase-{phase if phase in _PATTERNS and phase else 'unknown'})"


def pattern_defs(phases: Iterable[str]) -> str:
    """The definitions of the fills."""
    found = []
    for phase in dict.fromkeys(phase if phase in _PATTERNS else "" for phase in phases):
        tint, lines = _PATTERNS[phase]
        head = f'<pattern id="phase-{phase or "unknown"}" width="8" height="8" patternUnits="userSpaceOnUse">'
        found.append(f'{head}<rect width="8" height="8" fill="{tint}"/>{lines}</pattern>')
    return f"<defs>{''.join(found)}</defs>"


def ending_sign(ending: str, x: float, y: float) -> str:
    """How a boot ended, around a point, 22 wide and high; empty for one that has no sign."""
    inner = {
        "stopped": '<path d="M-4.6-11H4.6L11-4.6V4.6L4.6 11H-4.6L-11 4.6V-4.6Z" fill="#111"/>'
        '<rect x="-6.5" y="-2.2" width="13" height="4.4" fill="#fff"/>',
        "restarted": '<path d="M-7 0A7 7 0 1 0 0-7" fill="none" stroke="#111" stroke-width="2.2"/>'
        '<path d="M1-11.5V-2.5L-5.5-7Z" fill="#111"/>',
        "handed-over": '<path d="M-10-3.2H1V-8.5L11 0 1 8.5V3.2H-10Z" fill="#fff" stroke="#111" stroke-width="1.6"/>',
        "busy": '<circle r="10" fill="#fff" stroke="#111" stroke-width="1.6"/>'
        '<path d="M-5 0h.01M0 0h.01M5 0h.01" stroke="#111" stroke-width="3" stroke-linecap="round"/>',
        "silent": '<circle r="9.5" fill="#fff" stroke="#111" stroke-width="2"/>'
        '<path d="M-6.5 6.5L6.5-6.5" stroke="#111" stroke-width="2"/>',
        "record-ends": '<path d="M-3-10V10M3-10V10" stroke="#111" stroke-width="1.4" stroke-dasharray="3 2"/>',
    }.get(ending, "")
    return f'<g transform="translate({x:.1f} {y:.1f})">{inner}</g>' if inner else ""
