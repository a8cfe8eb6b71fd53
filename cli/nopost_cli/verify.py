"""`nopost verify`: is the machine that starts again what it was meant to become?"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from nopost.firmware.after import recognise_board, recognise_cpu, verify
from nopost.firmware.expected import Expected
from nopost.firmware.machine import Machine, machine_of
from nopost.firmware.records import find_board, find_cpu
from nopost.knowledge.model import Board
from nopost_cli import verify_screen
from nopost_cli.dump_input import dump_of
from nopost_cli.options import json_option, kb_option, knowledge_of
from nopost_cli.terminal import is_interactive
from nopost_cli.verify_questions import GIB, MOST, asked_machine, asked_plan, split_slots


@click.command("verify", short_help="Check the machine after an update or a change of parts.")
@click.argument("dump", required=False)
@click.option("--board", metavar="NAME|FILE", default="", help="Board record; default: the one whose name the board tells.")
@click.option("--cpu", metavar="NAME|FILE", default="", help="CPU record; default: the one whose name the CPU tells.")
@click.option("--firmware", metavar="VERSION", default="", help="Release that was to be written.")
@click.option("--slots", metavar="A,B", default="", help="Memory slots that hold a module, as printed on the board.")
@click.option("--rated", metavar="MT/S", type=click.IntRange(1, MOST), help="Rate on the modules' label.")
@click.option("--size", metavar="GIB", type=click.IntRange(1, MOST), help="Size of each module, from its label.")
@json_option
@kb_option
def command(
    dump: str | None,
    board: str,
    cpu: str,
    firmware: str,
    slots: str,
    rated: int | None,
    size: int | None,
    as_json: bool,
    kb: Path | None,
) -> None:
    """Compare what the machine says of itself with its records and with what was planned.

    DUMP is a copy of its SMBIOS table: on Linux, sudo cat /sys/firmware/dmi/tables/DMI > table.bin. A file that begins with an
    entry point is read too, and - reads standard input. Without DUMP a few values are asked at the terminal; without any
    option what was planned is asked, too. Serial numbers are not read.
    """
    if dump is None and not is_interactive():
        raise click.UsageError("there is no terminal to ask on: name a DUMP, or run it in a terminal")
    knowledge = knowledge_of(kb)
    expected = Expected(
        board=find_board(board, knowledge) if board else None,
        cpu=find_cpu(cpu, knowledge) if cpu else None,
        firmware=firmware.strip(),
        slots=split_slots(slots),
        rated=rated,
        size=size * GIB if size else None,
    )
    told = None if dump is None else dump_of(dump)
    if told is None and expected == Expected():
        expected = asked_plan(knowledge)
    machine = asked_machine() if told is None else machine_of(told, expected.slots)
    expected = replace(
        expected,
        board=expected.board or recognise_board(knowledge, machine),
        cpu=expected.cpu or recognise_cpu(knowledge, machine),
    )
    if (found := expected.board) is not None:
        expected = replace(expected, slots=split_slots(", ".join(expected.slots), found))
        machine = _typed_slots(machine, found) if told is None else machine_of(told, found.slots)
    verify_screen.show(knowledge, expected, machine, verify(expected, machine), as_json)


def _typed_slots(machine: Machine, board: Board) -> Machine:
    """The slots as the board writes them."""
    names = {slot.casefold(): slot for slot in board.slots}
    modules = machine.modules
    if modules is None:
        return machine
    return replace(
        machine,
        modules=tuple(replace(m, slot=names.get(m.slot.casefold(), m.slot), type=m.type or board.memory_type) for m in modules),
    )
