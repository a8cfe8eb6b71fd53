"""The terminal: a console that respects NO_COLOR, pipes and narrow windows, text that cannot control it, and what waits to be
read from it.

What only some systems have is used where it is there: line editing and watching the keyboard need not be.

Also what comes in from a named file or standard input, and how results go out. `print_json` gives every `--json` its one shape:
what it is, its version, and the data. Files are never written over one that is there unless asked, and whole or not at all. An
SMBIOS table is read from a file or from standard input.
"""

from __future__ import annotations

import contextlib
import json
import shlex
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nopost.errors import DumpError, InputError, OutputError
from nopost.files import open_plain, write_atomically
from nopost.text import without_controls

if TYPE_CHECKING:
    from nopost.firmware.verify.smbios_dump import Dump

STDIN = "-"
"""The name that stands for standard input."""


def shown_name(name: str) -> str:
    """The name as messages tell it."""
    return "standard input" if name == STDIN else name


def read_bytes(name: str, most: int, folder: str = "") -> bytes:
    """At most `most` bytes of a plain file, or of standard input for `-`; of closed standard input none.

    Who must tell that there is too much asks for one byte more than is allowed. `folder`: what to do when it is a folder.
    Raises InputError.
    """
    if name == STDIN:
        return sys.stdin.buffer.read(most) if sys.stdin is not None else b""
    if folder and Path(name).is_dir():
        raise InputError(f"{name}: this is a folder; {folder}")
    try:
        with open_plain(name) as stream:
            return stream.read(most)
    except OSError as error:
        raise InputError(f"{name or 'no file is named'}: cannot be read: {error.strerror}") from None


MOST_CODE_BYTES = 64 * 1024 * 1024
"""Of a file with codes so much is read."""
NO_CODES = "no codes were found; write digits such as 53 or 0x53, lamps such as 'memory lamp on', or beeps such as '1-3-1'"


def read_codes(file: str) -> bytes:
    """What a file with codes holds; - is standard input. Raises InputError."""
    return read_bytes(file, MOST_CODE_BYTES, f"all logs in it: nopost decode --batch {shlex.quote(file)} --out FILE.csv")


def dump_of(file: str) -> Dump:
    """The SMBIOS table in this file; - is standard input. Raises InputError, and DumpError when it holds none."""
    from nopost.firmware.verify.smbios_dump import MAX_BYTES, read_dump

    data = read_bytes(file, MAX_BYTES + 1)
    try:
        return read_dump(data)
    except DumpError as error:
        name = shown_name(file)
        raise DumpError(str(error) if str(error).startswith(name) else f"{name}: {error}") from None


VERSION = 1
"""Of what `--json` prints: higher once a key goes or means something else."""


def print_json(what: str, data: dict[str, Any], version: int = VERSION) -> None:
    """Print `{"format": "nopost-<what>", "version": ..., ...}`, in ASCII so that it is right in every encoding."""
    click.echo(json.dumps({"format": f"nopost-{what}", "version": version, **data}, indent=2))


def refuse_existing(out: Path | str, force: bool = False) -> None:
    """Raise OutputError when the file is there already; before the work, so that none is done in vain."""
    if not force and Path(out).exists():
        raise OutputError(f"{out}: is there already; name another file, or say --force")


def write_result(out: Path | str, content: str | bytes) -> None:
    """Write it. Raises OutputError when the disk refuses; then what was there still stands."""
    try:
        write_atomically(Path(out), content.encode() if isinstance(content, str) else content)
    except OSError as error:
        raise OutputError(f"{out}: cannot be written: {error.strerror}") from None


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
