"""Start the dialogue at a terminal or on a pipe, or say why it cannot be; lines that are pasted come together."""

from __future__ import annotations

import sys
from collections.abc import Callable

import click
from rich.text import Text

from nopost.diagnosis.diagnose import Diagnostician
from nopost.store.sessions import Session, keep_copy
from nopost_cli.dialogue.dialogue import Dialogue
from nopost_cli.shared.terminal import clean, edit_lines, input_waits, is_interactive, make_console

PASTED = 0.05
"""Seconds within which the next line of a paste comes."""
MOST_LINES = 100_000


def start_dialogue(
    diagnostician: Diagnostician, session: Session, keep: Callable[[Session], Session], *, ask_there: bool = False
) -> None:
    """Run the dialogue. Lines may also come from a pipe when there are some; an empty one is refused with a hint.

    `ask_there`: at a terminal, ask what is there before the first step.
    """
    console = make_console()
    first: list[str] = []
    if not is_interactive():
        line = _first_line()
        if not line:
            raise click.UsageError("there is no terminal to ask on: give --answer FINDING=ANSWER, or run it in a terminal")
        first.append(line.rstrip("\n"))

    def read() -> str:
        if first:
            return first.pop()
        try:
            return input("> ")
        except UnicodeError:
            return "�"

    if session.dropped:
        console.print(Text("This session was made with another edition of the knowledge base. Dropped:"))
        for lost in session.dropped:
            console.print(Text(clean(f"  {lost}")))
        console.print(Text(clean(f"The file as it was is kept as {keep_copy(session.name)}"), overflow="fold"))
        console.print(Text("Enter: go on", style="dim"))
        read()
        if is_interactive():
            _waiting()  # what was pasted here is no answer to a step that was not on screen
    if is_interactive():
        edit_lines()
    at_terminal = is_interactive()
    waiting = _waiting if at_terminal else list
    dialog = Dialogue(diagnostician, session, console, read, keep, waiting, ask_there=ask_there and at_terminal)
    stayed = dialog.run()
    if dialog.kept.unsaved:
        raise click.exceptions.Exit(1)
    if not stayed:
        raise click.exceptions.Exit(130)  # as shells say it of Ctrl-C


def _first_line() -> str:
    """The first line of a pipe; empty when there is none."""
    try:
        return sys.stdin.readline() if sys.stdin is not None else ""
    except UnicodeError:
        return "�\n"
    except OSError:  # it is open for writing only
        return ""


def _waiting() -> list[str]:
    """The lines at the terminal that came at once with the one just read: no person types the next within that time."""
    lines: list[str] = []
    try:
        while len(lines) < MOST_LINES and input_waits(PASTED):
            lines.append(input())
    except (EOFError, OSError, ValueError):
        pass
    return lines
