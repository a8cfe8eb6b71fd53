"""`nopost kb`: for trainers, one module per command.

`simulate_screen` and `drawings` are imported only when their command shows or draws something; `forms` holds the questions of
`nopost kb add`, `try_machines` and `try_score` two ways of `nopost kb try`, and `try_results` what they share.
"""

from __future__ import annotations

import click

from nopost_cli.shared.lazy import LazyGroup

COMMANDS = {
    "new": "Begin a knowledge base of your own.",
    "add": "Write a cause, finding, action, rule or case, asked item by item.",
    "check": "Say what is wrong with a knowledge base, with file and line.",
    "format": "Bring the files into one form: the same data, readable diffs.",
    "try": "Run case files, play real machines, score coded cases.",
    "simulate": "Play thousands of repairs and measure what they take.",
    "compare": "Two editions side by side, on one page for a reviewer.",
    "learn": "Propose new numbers from closed cases.",
    "draw": "Draw the knowledge, the questions, or one cause's page.",
    "export": "Write the network in an open interchange format.",
}
"""Command -> its line in the help."""


@click.group("kb", cls=LazyGroup, package="nopost_cli.kb", commands_of=COMMANDS)
def command() -> None:
    """For trainers: write, check, try, simulate, compare and draw a knowledge base."""
