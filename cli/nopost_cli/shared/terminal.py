"""The terminal: a console that respects NO_COLOR, pipes and narrow windows, text that cannot control it, and what waits to be
read from it.

What only some systems have is used where it is there: line editing and watching the keyboard need not be.
"""

from __future__ import annotations

import contextlib
import sys
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from nopost.text import without_controls

if TYPE_CHECKING:
    from rich.console import Console

NARROWEST, WIDEST = 20, 1000
"""Columns: in fewer nothing can be told, and no terminal has more (but COLUMNS can say so)."""
LOOK_EACH = 0.005
"""Seconds between two looks at a keyboard that can only be polled."""


@dataclass(frozen=True, slots=True)
class Glyphs:
    """What bars and marks are drawn with."""

    full: str
    rest: str
    dash: str


def make_console(*, stderr: bool = False, record: bool = False, width: int | None = None) -> Console:
    """A console without markup, emoji or highlighting: text is shown as it is, in a width that is one."""
    from rich.console import Console  # only when something is shown: it costs start-up time

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
    return without_controls(text, "\t\n").replace("\t", " ")


def is_interactive() -> bool:
    """Whether a person can be asked."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty()


def edit_lines() -> None:
    """Let the person edit a line and call back earlier ones at `input`, where Python has GNU Readline or its like."""
    with contextlib.suppress(ImportError):  # Windows, and Python built without it: its own console edits, or nothing does
        import readline  # noqa: F401  # to import it is to use it


def input_waits(seconds: float) -> bool:
    """Whether more input comes at the terminal within so many seconds; False where the terminal cannot be watched.

    A POSIX terminal hands over whole lines and can be waited for. A Windows console cannot (there `select` knows sockets
    alone): its keyboard is polled, which also sees a line that is only begun.
    """
    try:
        import msvcrt
    except ImportError:
        return _can_be_read(seconds)
    end = time.monotonic() + seconds
    while not (waits := bool(getattr(msvcrt, "kbhit")())) and time.monotonic() < end:  # noqa: B009  # not in POSIX's types
        time.sleep(LOOK_EACH)
    return waits


def _can_be_read(seconds: float) -> bool:
    try:
        import select

        return bool(select.select([sys.stdin], [], [], seconds)[0])
    except (ImportError, OSError, ValueError):  # no such module; no terminal that can be watched; closed
        return False
