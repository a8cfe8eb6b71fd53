"""Text set in rows that fit a width, by how wide its letters are.

A viewer shows the generic family "sans-serif" in a font of its own. The widths counted here are those of the widest of the
common fonts, so that text stays in its box with the others too. A PDF brings the exact metrics of its font instead
(`nopost.render.pdf`).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from nopost.render.scene import Item, TextLine
from nopost.text import without_controls

_REGULAR_WIDTHS = {
    28: "'ijlìíîï", 30: "IÌÍÎÏ", 32: " ,.\xa0·\u2018\u2019", 34: "/:;\\|¦", 36: "f", 38: "-", 40: "()[]t", 42: "!r¡²³¹",
    46: "\"", 48: "ªº", 50: "*J`¨¯°\u00b4\u00b8", 52: "“”", 54: "sz", 56: "?L_c§ç–", 58: "k", 60: "vxyýÿ•",
    62: "FTaeo«»¿àáâãäåèéêëðòóôõöø", 64: "$0123456789bdghnpqu{}¢£¤¥µ¶ßñùúûüþ€", 68: "EKPSYÈÉÊËÝÞ", 70: "ABVXZÀÁÂÃÄÅ",
    74: "CRUÇÙÚÛÜ", 76: "HNÑ", 78: "&DGÐ", 80: "OQÒÓÔÕÖØ", 82: "w", 84: "#+<=>^~¬±×÷", 88: "M", 96: "%", 98: "m¼½¾",
    100: "W©®Ææ—…", 102: "@",
}  # fmt: skip
_BOLD_WIDTHS = {
    32: "'", 36: " ijl\xa0ìíîï", 38: ",./I\\|¦·ÌÍÎÏ\u2018\u2019", 40: ":;", 42: "-", 44: "f²³¹", 46: "!()[]¡", 48: "t",
    50: "`r¨¯°\u00b4\u00b8", 54: "\"*", 56: "J_§–", 58: "ªº", 60: "cszç", 62: "?¿", 64: "L¤¶•", 66: "vxy«»ýÿ“”",
    68: "aekàáâãäåèéêë", 70: "$0123456789EFTo¢£¥ÈÉÊËðòóôõöø€", 72: "bdghnpqu{}ßñùúûüþ", 74: "CPSYZµÇÝÞ", 78: "ABKRVXÀÁÂÃÄÅ",
    82: "UÙÚÛÜ", 84: "#+<=>DGHN^~¬±ÐÑ×÷", 86: "OQÒÓÔÕÖØ", 88: "&", 94: "w", 100: "@M©®—…", 102: "%", 104: "¼½¾", 106: "mæ",
    110: "Æ", 112: "W",
}  # fmt: skip
"""Hundredths of the size -> letters: the wider of an open sans-serif font and of the standard Helvetica, rounded up."""
OTHER_WIDTH, PICTURE_WIDTH = 1.12, 1.5
"""Share of the size for all other characters, and for pictures."""

_WIDTH_SHARES = {
    bold: {letter: width / 100 for width, letters in table.items() for letter in letters}
    for bold, table in ((False, _REGULAR_WIDTHS), (True, _BOLD_WIDTHS))
}


class FontMetrics(Protocol):
    """What can be shown, and how wide it is."""

    def renderable(self, text: str) -> str:
        """The text with what cannot be shown replaced by something visible."""

    def width(self, text: str, size: float, bold: bool = False) -> float:
        """Points that text takes which `renderable` has made."""


class SansSerifMetrics:
    """Metrics of the generic family."""

    def renderable(self, text: str) -> str:
        """Everything but what controls."""
        return without_controls(text)

    def width(self, text: str, size: float, bold: bool = False) -> float:
        """Points, rather too many."""
        shares = _WIDTH_SHARES[bold]
        return size * sum(shares[c] if c in shares else _other_width(c) for c in text)


def _other_width(letter: str) -> float:
    return PICTURE_WIDTH if unicodedata.category(letter) == "So" or ord(letter) > 0xFFFF else OTHER_WIDTH


LEADING = 1.24
"""From one line to the next, as a share of the size."""
BASELINE = 0.96
"""From the top of a row to its base line, as a share of the size."""
_SLACK = 1e-6
_SPACES = re.compile(r"[ \t\r\n\f\v]+")


@dataclass(frozen=True, slots=True)
class TextStyle:
    """Size in points, and weight."""

    size: float
    bold: bool = False


@dataclass(frozen=True, slots=True)
class TextRow:
    """One line of text in its style, `indent` from the left."""

    text: str
    style: TextStyle
    indent: float = 0.0

    @property
    def height(self) -> float:
        """Points from its top to the next one's."""
        return self.style.size * LEADING


def wrapped(
    metrics: FontMetrics, text: str, style: TextStyle, width: float, most: int = 0, indent: float = 0.0
) -> tuple[TextRow, ...]:
    """The text in rows no wider than `width` less `indent`; at most `most` of them (0: any number), then an ellipsis."""
    room = width - indent
    lines = _lines(metrics, metrics.renderable(_SPACES.sub(" ", text).strip()), style, room)
    if most and len(lines) > most:
        lines = [*lines[: most - 1], _shortened(metrics, lines[most - 1], style, room)]
    return tuple(TextRow(line, style, indent) for line in lines)


def _lines(metrics: FontMetrics, text: str, style: TextStyle, room: float) -> list[str]:
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


def _broken(metrics: FontMetrics, word: str, style: TextStyle, room: float) -> list[str]:
    """A word in pieces that fit; each holds at least one character."""
    pieces, piece = [], ""
    for letter in word:
        if piece and not _fits(metrics, piece + letter, style, room):
            pieces.append(piece)
            piece = ""
        piece += letter
    return [*pieces, piece]


def _shortened(metrics: FontMetrics, line: str, style: TextStyle, room: float) -> str:
    while line and not _fits(metrics, f"{line}…", style, room):
        line = line[:-1]
    return f"{line.rstrip()}…"


def _fits(metrics: FontMetrics, text: str, style: TextStyle, room: float) -> bool:
    return metrics.width(text, style.size, style.bold) <= room + _SLACK


def height_of(rows: Iterable[TextRow]) -> float:
    """Points that rows take one under the other."""
    return sum(row.height for row in rows)


def set_rows(metrics: FontMetrics, rows: Sequence[TextRow], x: float, y: float) -> list[Item]:
    """The rows with their upper left corner at (x, y)."""
    items: list[Item] = []
    for row in rows:
        items.append(set_text(metrics, row.text, row.style, x + row.indent, y + BASELINE * row.style.size))
        y += row.height
    return items


def set_text(metrics: FontMetrics, text: str, style: TextStyle, x: float, y: float) -> TextLine:
    """Text that `renderable` has made, its left end on the base line at (x, y)."""
    return TextLine(x, y, text, style.size, metrics.width(text, style.size, style.bold), style.bold)


def right_text(metrics: FontMetrics, text: str, style: TextStyle, right: float, y: float) -> TextLine:
    """Text that `renderable` has made, its right end at `right`."""
    width = metrics.width(text, style.size, style.bold)
    return TextLine(right - width, y, text, style.size, width, style.bold)


def percent(share: float, little: str = "under 1 %") -> str:
    """A share as people read it on paper; `little` stands for one that would be rounded to nothing."""
    return little if 0 < share < 0.005 else f"{100 * share:.0f} %"
