"""Text set in lines that fit a width, and blocks of such lines."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nopost.charts.letters import Metrics
from nopost.charts.scene import Item, Text

LEADING = 1.24
"""From one line to the next, as a share of the size."""
BASE = 0.96
"""From the top of a row to its base line, as a share of the size."""
_SLACK = 1e-6
_SPACES = re.compile(r"[ \t\r\n\f\v]+")


@dataclass(frozen=True, slots=True)
class Style:
    """Size in points, and weight."""

    size: float
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One line of text in its style, `indent` from the left."""

    text: str
    style: Style
    indent: float = 0.0

    @property
    def height(self) -> float:
        """Points from its top to the next one's."""
        return self.style.size * LEADING


def wrapped(metrics: Metrics, text: str, style: Style, width: float, most: int = 0, indent: float = 0.0) -> tuple[Row, ...]:
    """The text in rows no wider than `width` less `indent`; at most `most` of them (0: any number), then an ellipsis."""
    room = width - indent
    lines = _lines(metrics, metrics.shown(_SPACES.sub(" ", text).strip()), style, room)
    if most and len(lines) > most:
        lines = [*lines[: most - 1], _shortened(metrics, lines[most - 1], style, room)]
    return tuple(Row(line, style, indent) for line in lines)


def _lines(metrics: Metrics, text: str, style: Style, room: float) -> list[str]:
    lines, line = [], ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if _fits(metrics, longer, style, room):
            line = longer
            continue
        if line:
            lines.append(line)
        *full, line = _broken(metrics, word, style, room)
        lines += full
    return [*lines, line] if line else lines


def _broken(metrics: Metrics, word: str, style: Style, room: float) -> list[str]:
    """A word in pieces that fit; each holds at least one character."""
    pieces, piece = [], ""
    for letter in word:
        if piece and not _fits(metrics, piece + letter, style, room):
            pieces.append(piece)
            piece = ""
        piece += letter
    return [*pieces, piece]


def _shortened(metrics: Metrics, line: str, style: Style, room: float) -> str:
    while line and not _fits(metrics, f"{line}…", style, room):
        line = line[:-1]
    return f"{line.rstrip()}…"


def _fits(metrics: Metrics, text: str, style: Style, room: float) -> bool:
    return metrics.width(text, style.size, style.bold) <= room + _SLACK


def height_of(rows: Iterable[Row]) -> float:
    """Points that rows take one under the other."""
    return sum(row.height for row in rows)


def set_rows(metrics: Metrics, rows: Sequence[Row], x: float, y: float) -> list[Item]:
    """The rows with their upper left corner at (x, y)."""
    items: list[Item] = []
    for row in rows:
        items.append(set_text(metrics, row.text, row.style, x + row.indent, y + BASE * row.style.size))
        y += row.height
    return items


def set_text(metrics: Metrics, text: str, style: Style, x: float, y: float) -> Text:
    """Text that is shown already, its left end on the base line at (x, y)."""
    return Text(x, y, text, style.size, metrics.width(text, style.size, style.bold), style.bold)


def right_text(metrics: Metrics, text: str, style: Style, right: float, y: float) -> Text:
    """Text that is shown already, its right end at `right`."""
    width = metrics.width(text, style.size, style.bold)
    return Text(right - width, y, text, style.size, width, style.bold)
