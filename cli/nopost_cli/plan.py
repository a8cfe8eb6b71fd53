"""`nopost plan`: the way from the release on the board to the CPU that it shall run."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from nopost.errors import UnknownNameError
from nopost.text import comma_parts
from nopost_cli.shared.options import currency_option, json_option, kb_option, knowledge_of
from nopost_cli.shared.terminal import clean, dump_of, make_console, print_json

if TYPE_CHECKING:
    from nopost.firmware.route.route_plan import FirmwarePlan
    from nopost.firmware.route.task import Way
    from nopost.firmware.verify.recognise import StatedParts
    from nopost.knowledge.model import Knowledge
    from nopost.knowledge.reference_records import Board, Cpu

WAYS = {
    "inside": ("write-inside",),
    "button": ("write-button",),
    "recovery": ("write-recovery",),
    "shop": ("write-shop",),
    "chip": ("fit-chip", "second-chip"),
    "swap": ("swap-cpu", "borrow-cpu"),
    "borrow": ("borrow-cpu",),
}
"""What --without can name -> the ways it rules out (values of Way)."""


@click.command("plan", short_help="Plan the way to firmware that knows a CPU.")
@click.option("--board", metavar="NAME|FILE", default="", help="Board record: one of the knowledge base, or a file.")
@click.option(
    "--firmware", metavar="VERSION", default="", help="Firmware release on the board now; may be left out with --have old-cpu."
)
@click.option("--cpu", metavar="NAME|FILE", required=True, help="The CPU that shall run.")
@click.option(
    "--fitted", metavar="NAME|FILE|none", default="", help="The CPU in the socket now; default: the one that shall run."
)
@click.option("--from-dump", "dump", metavar="FILE", default="", help="Take board, firmware and fitted CPU from an SMBIOS table.")
@click.option(
    "--have",
    metavar="ITEMS",
    multiple=True,
    help="At hand: stick, second-machine, old-cpu (one that ran in it), donor:CPU (record or family).",
)
@click.option("--without", metavar="WAYS", multiple=True, help=f"Ways that are out of the question: {', '.join(WAYS)}.")
@click.option("--second-chip", "second", metavar="VERSION", default="", help="Release on the board's second chip.")
@click.option("--to", metavar="VERSION", default="", help="The release to end with; default: any that knows the CPU.")
@click.option(
    "--per-minute", metavar="MONEY", type=click.FloatRange(0, 1_000_000, min_open=True), help="What a minute is worth to you."
)
@currency_option
@click.option("--format", "form", type=click.Choice(["text", "md", "html"]), default="text", show_default=True, help="Form.")
@json_option
@kb_option
def command(
    board: str,
    firmware: str,
    cpu: str,
    fitted: str,
    dump: str,
    have: tuple[str, ...],
    without: tuple[str, ...],
    second: str,
    to: str,
    per_minute: float | None,
    currency: str,
    form: str,
    as_json: bool,
    kb: Path | None,
) -> None:
    """Plan the way from the firmware that a board has to the CPU that it shall run.

    The route takes the least effort; what is best in minutes, money or risk alone is named too, and so is why other moves are
    refused. Without a route it says what is missing.

    FILE of --from-dump is a copy of the SMBIOS table of the running machine, on Linux made with sudo cat
    /sys/firmware/dmi/tables/DMI > table.bin; - reads standard input. What is given by hand goes before it.
    """
    from nopost.firmware.records import find_board, find_cpu
    from nopost.firmware.route.moves import prices_of
    from nopost.firmware.route.route_plan import make_plan, plan_data
    from nopost.firmware.route.task import OLD_CPU, make_task
    from nopost.firmware.verify.recognise import StatedParts
    from nopost.render.route_checklist import html_plan, markdown_plan
    from nopost_cli.dialogue.step_screen import check_lines

    if per_minute is not None and math.isnan(per_minute):
        raise click.BadParameter("it must be a number", param_hint="--per-minute")
    has_old_cpu = OLD_CPU in _split(have)
    if not dump and not (board and (firmware.strip() or has_old_cpu)):
        raise click.UsageError("give --board and --firmware, or --from-dump with a table of the machine")
    knowledge = knowledge_of(kb)
    target = find_cpu(cpu, knowledge)
    given = StatedParts(
        board=find_board(board, knowledge) if board else None,
        firmware=firmware.strip(),
        cpu=None if fitted.strip().casefold() in ("", "none") else find_cpu(fitted, knowledge),
        empty=fitted.strip().casefold() == "none",
    )
    record, version, present = _present(knowledge, given, target, dump)
    tools, donors = _at_hand(knowledge, record, _split(have))
    ruled_out = [way for name in _split(without) for way in _ways(name)]
    task = make_task(record, version, target, present, donors, tools, to.strip(), second.strip(), ruled_out)
    plan = make_plan(task, prices_of(knowledge.base, per_minute), target.socket)
    if as_json:
        print_json("plan", plan_data(plan))
    elif form == "text":
        _show(knowledge, plan, currency, list(check_lines(plan, board or record.id, cpu, str(kb or ""))))
    else:
        click.echo(clean((html_plan if form == "html" else markdown_plan)(knowledge, plan, currency)), nl=False)


def _present(knowledge: Knowledge, given: StatedParts, target: Cpu, dump: str) -> tuple[Board, str, Cpu | None]:
    """Board, release and fitted CPU; what a table settled is told on standard error."""
    from nopost.firmware.verify.machine import machine_of
    from nopost.firmware.verify.recognise import plan_start

    if dump:
        found = plan_start(knowledge, machine_of(dump_of(dump)), given)
        for note in found.notes:
            click.echo(clean(note), err=True)
        return found.board, found.firmware, found.cpu
    assert given.board is not None
    return given.board, given.firmware, None if given.empty else given.cpu or target


def _split(values: tuple[str, ...]) -> list[str]:
    return [each for value in values for each in comma_parts(value)]


def _ways(name: str) -> tuple[Way, ...]:
    from nopost.firmware.route.task import Way

    if name not in WAYS:
        raise UnknownNameError("way", name, WAYS)
    return tuple(Way(way) for way in WAYS[name])


def _at_hand(knowledge: Knowledge, board: Board, items: list[str]) -> tuple[list[str], list[Cpu | str]]:
    """Tools and donors; a donor is a record, or a family that the board knows or knew."""
    from nopost.firmware.records import find_cpu
    from nopost.firmware.route.task import OLD_CPU, SECOND_MACHINE, STICK

    tools: list[str] = []
    donors: list[Cpu | str] = []
    families = {*board.first_families, *(family for release in board.releases for family in release.adds)}
    for item in items:
        kind, _, name = item.partition(":")
        if kind == "donor" and name:
            donors.append(name if name in families and name not in knowledge.cpus else find_cpu(name, knowledge))
        elif item == OLD_CPU:
            donors.append(item)
        elif item in (STICK, SECOND_MACHINE):
            tools.append(item)
        else:
            raise UnknownNameError("thing at hand", item, (STICK, SECOND_MACHINE, OLD_CPU, "donor:CPU"))
    return tools, donors


def _show(knowledge: Knowledge, plan: FirmwarePlan, currency: str, checks: Sequence[str]) -> None:
    from nopost_cli.dialogue.step_screen import plan_parts

    console = make_console()
    for part in plan_parts(console, knowledge, plan, currency, checks):
        console.print(part)
