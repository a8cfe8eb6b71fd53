"""`nopost board`: records of boards, one module per command: new, import, show.

`new` asks for a whole record, `firmware_questions` for its releases and the ways to write them; `import` asks with both for
what a list does not say.
"""

from __future__ import annotations

import click

from nopost_cli.shared.lazy import LazyGroup

COMMANDS = {
    "new": "Write a board record, asked item by item.",
    "import": "Turn a list of releases into a board record.",
    "show": "Show a board and its releases as a graph.",
}
"""Command -> its line in the help."""


@click.group("board", cls=LazyGroup, package="nopost_cli.board", commands_of=COMMANDS)
def command() -> None:
    """Make, fill and look at board records."""
