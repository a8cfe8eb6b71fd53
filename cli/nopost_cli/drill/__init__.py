"""`nopost drill`: exercises for apprentices. Without a command it sets one; its commands are in modules of their names."""

from __future__ import annotations

from pathlib import Path

import click

from nopost_cli.shared.lazy import LazyGroup
from nopost_cli.shared.options import kb_option, knowledge_of

COMMANDS = {
    "sheet": "Print exercises and answer sheets.",
    "scores": "Show what someone has done, and what is due again.",
}
"""Command -> its line in the help."""
MOST_SEED = 2**31


@click.group("drill", cls=LazyGroup, package="nopost_cli.drill", commands_of=COMMANDS, invoke_without_command=True)
@click.option("--level", type=click.Choice(["first", "second", "third"]), default="first", show_default=True, help="How hard.")
@click.option("--seed", type=click.IntRange(0, MOST_SEED), help="The same exercise for a whole class.")
@click.option("--case", "case", metavar="FILE|CASE", default="", help="Take the fault of a case instead of drawing one.")
@click.option("--name", metavar="NAME", default="", help="Name or initials, to keep the score and to practise weak spots again.")
@kb_option
@click.pass_context
def command(ctx: click.Context, level: str, seed: int | None, case: str, name: str, kb: Path | None) -> None:
    """Find the fault of a simulated machine: look, test and mend; every step costs its effort.

    At the end your steps stand beside those of the advice: where effort was lost, and which evidence was overlooked. With --name
    scores are kept, and what went badly comes again sooner.
    """
    if ctx.invoked_subcommand:
        return
    if case and seed is not None:
        raise click.UsageError("--seed draws a fault and --case gives one: leave one of them out")
    from nopost_cli.drill.run_exercise import run_exercise

    run_exercise(knowledge_of(kb), level, seed, case, name, kb)
