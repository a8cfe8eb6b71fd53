"""The terminal: a console that respects NO_COLOR, pipes and narrow windows, and text that cannot control it."""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass

from rich.console import Console

NARROWEST, WIDEST = 20, 1000
"""Columns: in fewer nothing can be told, and no terminal has more (but COLUMNS can say so)."""
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
"""What moves the cursor, ends a line unasked, turns the direction of writing (Bidi_Control of Unicode), or is half a letter."""


@dataclass(frozen=True, slots=True)
class Glyphs:
    """What bars and marks are drawn with."""

    full: str
    rest: str
    dash: str


def make_console(*, stderr: bool = False, record: bool = False, width: int | None = None) -> Console:
    """A console without markup, emoji or highlighting: text is shown as it is, in a width that is one."""
    console = Console(stderr=stderr, record=record, width=width, markup=False, emoji=False, highlight=False)
    if not NARROWEST <= console.width <= WIDEST:
        console.width = min(max(console.width, NARROWEST), WIDEST)
    return console


def glyphs(console: Console) -> Glyphs:
    """Drawn blocks where the output can carry them, else plain characters."""
    try:
        "█░—".encode(console.encoding or "ascii")
    except (UnicodeError, LookupError):
        return Glyphs("#", ".", "-")
    return Glyphs("█", "░", "—")


def clean(text: str) -> str:
    """Text in which nothing controls the terminal or the direction of writing, wherever it came from; a tab becomes a space."""
    return _CONTROL.sub("�", text).replace("\t", " ")


def is_interactive() -> bool:
    """Whether a person can be asked."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty()
