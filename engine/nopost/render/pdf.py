"""A scene as PDF, through fpdf2: real text that can be searched, and its metrics.

Without a font file the text is in Helvetica, which every PDF viewer brings (ISO 32000-1, 9.6.2.2, the standard 14 fonts); it
has the letters of Western Europe. Other characters are written as their number, unless a font that has them is given.
"""

from __future__ import annotations

import logging
import re
import unicodedata
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from nopost.errors import OutputError
from nopost.render.scene import Item, Page, Point, Polyline, Rectangle, TextLine
from nopost.text import without_controls

_CODING = "windows-1252"
_SCALE = 1000.0
_UNDATED = datetime(2000, 1, 1, tzinfo=UTC)
"""A fixed moment, so that the same input gives the same file."""
_LOOKALIKES = {"\u2011": "-", "\u2212": "-", "\u2192": "->", "\u2264": "<=", "\u2265": ">=", "\ufffd": "\xbf"}


class PdfWriter:
    """A document in the making: its font's metrics first, then its pages."""

    def __init__(self, font: Path | None = None) -> None:
        """Raises OutputError when fpdf2 is not installed or the font cannot be used."""
        try:
            from fpdf import FPDF
        except ImportError as error:
            needed = "a PDF is written by fpdf2, which is not installed; type: pip install fpdf2"
            raise OutputError(f"{needed}, or name a file that ends in .svg") from error
        for name in ("fpdf", "fontTools"):  # what they log about glyphs is said by `replaced`
            logging.getLogger(name).addHandler(logging.NullHandler())
        self._pdf: Any = FPDF(unit="pt")
        self._pdf.core_fonts_encoding = _CODING
        self._pdf.set_auto_page_break(False)
        self._pdf.set_creation_date(_UNDATED)
        self._pdf.set_creator("nopost")
        self._family = _add_font(self._pdf, font) if font else "helvetica"
        self._widths: dict[tuple[str, bool], float] = {}
        self._spellings: dict[str, str] = {}
        self.replaced: set[str] = set()
        """Characters that the font lacks."""

    def renderable(self, text: str) -> str:
        """The text in characters that the font has."""
        return "".join(self._spellings.get(c) or self._known(c) for c in without_controls(text))

    def width(self, text: str, size: float, bold: bool = False) -> float:
        """Points that text takes which `renderable` has made."""
        return size / _SCALE * sum(self._widths.get((c, bold)) or self._measured(c, bold) for c in text)

    def document(self, pages: Sequence[Page]) -> bytes:
        """The file; with an outline when it holds several things."""
        names = list(dict.fromkeys(page.name for page in pages))
        self._pdf.set_title(names[0] if len(names) == 1 else "Pages for a binder")
        begins = {name: next(page for page in pages if page.name == name) for name in names} if len(names) > 1 else {}
        for page in pages:
            self._pdf.add_page(format=(page.width, page.height))
            if begins.get(page.name) is page:
                self._pdf.start_section(page.name)
            for item in page.items:
                self._draw(item)
        return bytes(self._pdf.output())

    def _known(self, letter: str) -> str:
        found = letter if self._has(letter) else self._spelled(letter)
        self._spellings[letter] = found
        return found

    def _spelled(self, letter: str) -> str:
        """The letter without its accents where the font has that, else its number."""
        if self._family != "helvetica" or letter not in _LOOKALIKES:
            plain = "".join(c for c in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(c))
            for spelled in (plain, _without_stroke(letter)):
                if spelled not in ("", letter) and all(self._has(c) for c in spelled):
                    return spelled
            self.replaced.add(letter)
        return _LOOKALIKES.get(letter, f"[{ord(letter):04X}]")

    def _has(self, letter: str) -> bool:
        if self._family == "helvetica":
            return letter.encode(_CODING, "ignore") != b""
        return ord(letter) in self._pdf.fonts[self._family].cmap

    def _measured(self, letter: str, bold: bool) -> float:
        self._pdf.set_font(self._family, "B" if bold else "", _SCALE)
        self._widths[letter, bold] = width = float(self._pdf.get_string_width(letter))
        return width

    def _draw(self, item: Item) -> None:
        if isinstance(item, TextLine):
            self._pdf.set_font(self._family, "B" if item.bold else "", item.size)
            self._pdf.text(item.x, item.y, item.text)
        elif isinstance(item, Polyline):
            self._pen(item.stroke, item.dash)
            self._pdf.polyline(item.points, polygon=item.closed)
        else:
            self._frame(item)

    def _frame(self, frame: Rectangle) -> None:
        self._pen(frame.stroke, frame.dash)
        if frame.fill is not None:
            self._pdf.set_fill_color(round(255 * frame.fill))
        style = ("D" if frame.stroke else "") + ("F" if frame.fill is not None else "")
        corners: dict[str, Any] = {"round_corners": True, "corner_radius": frame.corner} if frame.corner else {}
        if style:
            self._pdf.rect(frame.x, frame.y, frame.width, frame.height, style=style, **corners)

    def _pen(self, stroke: float, dash: Point | None) -> None:
        self._pdf.set_line_width(stroke)
        self._pdf.set_dash_pattern(*(dash or (0, 0)))


def _without_stroke(letter: str) -> str:
    """A Latin letter without its stroke, hook or bar, by its name in Unicode; empty for all others."""
    name = re.fullmatch(r"LATIN (SMALL|CAPITAL) LETTER ([A-Z]) WITH .*", unicodedata.name(letter, ""))
    return "" if name is None else name[2].lower() if name[1] == "SMALL" else name[2]


def _add_font(pdf: Any, font: Path) -> str:
    try:
        for style in ("", "B"):
            pdf.add_font("given", style, str(font))
    except Exception as error:  # fontTools raises whatever a broken file leads it to
        raise OutputError(f"{font}: no font that can be used (TrueType or OpenType wanted)") from error
    return "given"
