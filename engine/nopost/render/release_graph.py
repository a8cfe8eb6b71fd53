"""The release graph of a board as SVG: to be read in black and white."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nopost.firmware.release_graph import ReleaseNode
from nopost.render.svg import (
    INK,
    PAPER,
    SOFT,
    Attribute,
    circle,
    document,
    number,
    path,
    polyline,
    rectangle,
    text_at,
    text_width,
)
from nopost.text import without_controls

WIDTH = 760.0
MARGIN, LINE_SPACING, TOP, LINE_HEIGHT = 24.0, 20.0, 74.0, 19.0
SIZE, SMALL = 13.0, 11.5
LONGEST = 260.0
"""Room for a version."""
_BOLD: dict[str, Attribute] = {"font_weight": "bold"}


@dataclass(frozen=True, slots=True)
class RequirementLine:
    """A line from a release to those that ask for it, in a column of its own; column 0 is the outermost."""

    column: int
    source: int
    targets: tuple[int, ...]

    @property
    def last(self) -> int:
        return self.targets[-1]


def picture(nodes: Sequence[ReleaseNode], title: str) -> str:
    """A standalone SVG. Oldest release on top; lines at the left lead from a release to those that ask for it."""
    lines = requirement_lines(nodes)
    columns = max((line.column for line in lines), default=-1) + 1
    step = min(LINE_SPACING, 220.0 / max(columns, 1))
    trunk = MARGIN + columns * step + 22
    places, y = [], TOP
    blocks = [_words(node, trunk) for node in nodes]
    for node, words in zip(nodes, blocks, strict=True):
        y += 30 if node.one_way and node.index else 0
        places.append(y)
        y += 34 + LINE_HEIGHT * len(words)
    parts = [polyline([(trunk, places[0]), (trunk, places[-1])], stroke_width=1.4)] if len(nodes) > 1 else []
    parts += [_requirement_line(line, places, MARGIN + 6 + line.column * step, trunk) for line in lines]
    for node, words, at in zip(nodes, blocks, places, strict=True):
        parts.append(_release(node, words, trunk, at))
    height = y + 34
    head = text_at(MARGIN, 30, _cut(title, WIDTH - 2 * MARGIN, 17), 17, **_BOLD)
    head += text_at(MARGIN, 50, "Firmware releases, the oldest on top.", SMALL, fill=SOFT)
    return document(WIDTH, height, title, [head, *parts, _legend(height - 14)], font_family="system-ui, sans-serif", fill=INK)


def requirement_lines(nodes: Sequence[ReleaseNode]) -> tuple[RequirementLine, ...]:
    """The lines, no two of them in one place; a column is used again once its line has ended."""
    places = {node.version: node.index for node in nodes}
    asked: dict[int, list[int]] = {}
    for node in nodes:
        for name in node.needs:
            if name in places and places[name] < node.index:
                asked.setdefault(places[name], []).append(node.index)
    ends: list[int] = []
    found: list[tuple[int, int, tuple[int, ...]]] = []
    for source in sorted(asked):
        targets = tuple(sorted(set(asked[source])))
        free = next((column for column, end in enumerate(ends) if end < source), len(ends))
        ends[free : free + 1] = [targets[-1]]
        found.append((free, source, targets))
    return tuple(RequirementLine(len(ends) - 1 - column, source, targets) for column, source, targets in found)


def _legend(y: float) -> str:
    words = "+ CPU family known from here on; – no longer known; arrow: has to be on the board before, or a later one"
    return text_at(MARGIN, y, words, SMALL, fill=SOFT)


def _plates(node: ReleaseNode, x: float) -> tuple[list[str], list[str]]:
    """Families gained and lost: those that have room beside the version, and the rest."""
    texts = [f"+ {family}" for family in node.adds] + [f"– {family}" for family in node.drops]
    left = x + 18 + text_width(_cut(node.version, LONGEST, SIZE + 2), SIZE + 2, 0.68) + text_width(node.date, SIZE, 0.6) + 26
    for count, text in enumerate(texts):
        left += text_width(text, SIZE, 0.62) + 20
        if left > WIDTH - MARGIN:
            return texts[:count], texts[count:]
    return texts, []


def _words(node: ReleaseNode, x: float) -> list[str]:
    """Lines under a release."""
    room = WIDTH - x - 40
    found: list[str] = []
    for text in _plates(node, x)[1]:
        if found and text_width(f"{found[-1]}   {text}", SMALL, 0.62) <= room:
            found[-1] += f" · {text}"
        else:
            found.append(_cut(text, room, SMALL))
    for name in node.needs:
        lacking = ", which this record lacks" if name in node.missing else ""
        found.append(_cut(f"needs {name} or later on the board before it{lacking}", room, SMALL))
    return found


def _cut(text: str, room: float, size: float) -> str:
    text = without_controls(text)
    if text_width(text, size, 0.62) <= room:
        return text
    while text and text_width(f"{text}…", size, 0.62) > room:
        text = text[: max(0, len(text) - 1 - len(text) // 20)]
    return f"{text}…"


def _requirement_line(line: RequirementLine, places: Sequence[float], x: float, trunk: float) -> str:
    """From the right of the source round to each target, with an arrow."""
    source, last = places[line.source], places[line.last]
    begin = source + 5
    parts = [polyline([(trunk - 8, begin), (x, begin), (x, last - 3)], stroke_width=1.6, stroke_linejoin="round")]
    for target in line.targets:
        y = places[target] - 3
        parts.append(polyline([(x, y), (trunk - 15, y)], stroke_width=1.6))
        parts.append(path(f"M{number(trunk - 9)} {number(y)}l-9 -4.5v9z", fill=INK))
    return "".join(parts)


def _release(node: ReleaseNode, words: Sequence[str], x: float, y: float) -> str:
    parts = []
    if node.one_way and node.index:
        parts.append(_wall(node, x, y - 36))
    parts.append(circle(x, y, 7, fill=INK if node.one_way else PAPER, stroke=INK, stroke_width=2))
    left = x + 18
    version = _cut(node.version, LONGEST, SIZE + 2)
    parts.append(text_at(left, y + 5, version, SIZE + 2, **_BOLD))
    left += text_width(version, SIZE + 2, 0.68) + 12
    parts.append(text_at(left, y + 5, node.date, SIZE, fill=SOFT))
    left += text_width(node.date, SIZE, 0.6) + 14
    for text in _plates(node, x)[0]:
        wide = text_width(text, SIZE, 0.62) + 12
        dash, weight = (None, "bold") if text.startswith("+") else ("4 3", None)
        parts.append(rectangle(left, y - 10, wide, 20, fill=PAPER, stroke=INK, stroke_width=1.3, rx=3, stroke_dasharray=dash))
        parts.append(text_at(left + 6, y + 4.6, text, SIZE, font_weight=weight))
        left += wide + 8
    parts += [text_at(x + 18, y + 5 + LINE_HEIGHT * k, text, SMALL) for k, text in enumerate(words, 1)]
    return "".join(parts)


def _wall(node: ReleaseNode, x: float, y: float) -> str:
    """A double line that nothing older crosses."""
    words = _cut(f"no way back: from {node.version} on nothing older can be written", WIDTH - x - 60, SMALL)
    wide = text_width(words, SMALL, 0.6) + 12
    lines = "".join(polyline([(MARGIN, y + d), (WIDTH - MARGIN, y + d)], stroke_width=2) for d in (0, 4))
    plate = rectangle(x + 22, y - 7, wide, 18, fill=PAPER)
    return f"{lines}{plate}{text_at(x + 28, y + 6, words, SMALL, **_BOLD)}"
