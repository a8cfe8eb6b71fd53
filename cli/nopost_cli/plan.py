"""`nopost plan`: the way from the release on the board to the CPU that it shall run."""

from __future__ import annotations

import math
from pathlib import Path

import click
from rich.table import Table
from rich.text import Text

from nopost.errors import UnknownNameError
from nopost.firmware.records import find_board, find_cpu
from nopost.firmware.route.checklist import blocks, html_plan, markdown_plan, plan_data, title_of
from nopost.firmware.route.moves import prices_of
from nopost.firmware.route.plan import Plan, make_plan
from nopost.firmware.route.state import SECOND_MACHINE, STICK, Way, make_task
from nopost.knowledge.model import Board, Cpu, Knowledge
from nopost_cli import screens
from nopost_cli.envelope import print_json
from nopost_cli.options import json_option, kb_option, knowledge_of
from nopost_cli.terminal import clean, make_console

WAYS = {
    "inside": (Way.INSIDE,),
    "button": (Way.BUTTON,),
    "recovery": (Way.RECOVERY,),
    "shop": (Way.SHOP,),
    "chip": (Way.CHIP, Way.SECOND),
    "swap": (Way.SWAP, Way.BORROW),
    "borrow": (Way.BORROW,),
}
"""What --without can name."""


@click.command("plan", short_help="Plan the way to firmware that knows a CPU.")
@click.option("--board", metavar="NAME|FILE", required=True, help="Board record: one of the knowledge base, or a file.")
@click.option("--firmware", metavar="VERSION", required=True, help="Firmware release on the board now.")
@click.option("--cpu", metavar="NAME|FILE", required=True, help="The CPU that shall run.")
@click.option(
    "--fitted", metavar="NAME|FILE|none", default="", help="The CPU in the socket now; default: the one that shall run."
)
@click.option("--have", metavar="ITEMS", multiple=True, help="At hand: stick, second-machine, donor:CPU (record or family).")
@click.option("--without", metavar="WAYS", multiple=True, help=f"Ways that are out of the question: {', '.join(WAYS)}.")
@click.option("--second-chip", "second", metavar="VERSION", default="", help="Release on the board's second chip.")
@click.option("--to", metavar="VERSION", default="", help="The release to end with; default: any that knows the CPU.")
@click.option(
    "--per-minute", metavar="MONEY", type=click.FloatRange(0, 1_000_000, min_open=True), help="What a minute is worth to you."
)
@click.option("--format", "form", type=click.Choice(["text", "md", "html"]), default="text", show_default=True, help="Form.")
@json_option
@kb_option
def command(
    board: str,
    firmware: str,
    cpu: str,
    fitted: str,
    have: tuple[str, ...],
    without: tuple[str, ...],
    second: str,
    to: str,
    per_minute: float | None,
    form: str,
    as_json: bool,
    kb: Path | None,
) -> None:
    """Plan the way from the firmware that a board has to the CPU that it shall run.

    The route takes the least effort; what is best in minutes, money or risk alone is named too, and so is why other moves are
    refused. Without a route it says what is missing.
    """
    if per_minute is not None and math.isnan(per_minute):
        raise click.BadParameter("it must be a number", param_hint="--per-minute")
    knowledge = knowledge_of(kb)
    record, target = find_board(board, knowledge), find_cpu(cpu, knowledge)
    present = None if fitted == "none" else find_cpu(fitted, knowledge) if fitted else target
    tools, donors = _at_hand(knowledge, record, _split(have))
    ruled_out = [way for name in _split(without) for way in _ways(name)]
    task = make_task(record, firmware.strip(), target, present, donors, tools, to.strip(), second.strip(), ruled_out)
    plan = make_plan(task, prices_of(knowledge.base, per_minute), target.socket)
    if as_json:
        print_json("plan", plan_data(plan))
    elif form == "text":
        _show(knowledge, plan)
    else:
        click.echo(clean((html_plan if form == "html" else markdown_plan)(knowledge, plan)), nl=False)


def _split(values: tuple[str, ...]) -> list[str]:
    return [each.strip() for value in values for each in value.split(",") if each.strip()]


def _ways(name: str) -> tuple[Way, ...]:
    if name not in WAYS:
        raise UnknownNameError("way", name, WAYS)
    return WAYS[name]


def _at_hand(knowledge: Knowledge, board: Board, items: list[str]) -> tuple[list[str], list[Cpu | str]]:
    """Tools and donors; a donor is a record, or a family that the board knows or knew."""
    tools: list[str] = []
    donors: list[Cpu | str] = []
    families = {*board.first_families, *(family for release in board.releases for family in release.adds)}
    for item in items:
        kind, _, name = item.partition(":")
        if kind == "donor" and name:
            donors.append(name if name in families and name not in knowledge.cpus else find_cpu(name, knowledge))
        elif item in (STICK, SECOND_MACHINE):
            tools.append(item)
        else:
            raise UnknownNameError("thing at hand", item, (STICK, SECOND_MACHINE, "donor:CPU"))
    return tools, donors


def _show(knowledge: Knowledge, plan: Plan) -> None:
    console = make_console()
    console.print(Text(clean(title_of(plan)), style="bold"))
    for block in blocks(knowledge, plan):
        console.print()
        if block.level == 1:
            console.print(screens.heading(console, block.title))
        else:
            console.print(Text(clean(block.title), style="bold yellow" if block.title == "Caution" else "bold"))
        for line in block.lines:
            console.print(_line("[ ]" if block.ticked else "-", line))


def _line(mark: str, text: str) -> Table:
    grid = Table.grid(padding=(0, 1))
    grid.add_column(no_wrap=True, width=3, justify="right")
    grid.add_column(ratio=1)
    grid.add_row(Text(mark), Text(clean(text)))
    return grid
