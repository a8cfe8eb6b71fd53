"""`nopost verify`: is the machine that starts again what it was meant to become?"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import click

from nopost.errors import DumpError
from nopost.firmware.after import recognise_board, recognise_cpu, verify
from nopost.firmware.after_check import Expected
from nopost.firmware.machine import Machine, Module, machine_of
from nopost.firmware.records import find_board, find_cpu
from nopost.firmware.smbios.dump import MAX_BYTES, read_dump
from nopost.knowledge.model import Board
from nopost_cli import verify_screen
from nopost_cli.options import json_option, kb_option, knowledge_of
from nopost_cli.terminal import is_interactive

MOST = 1_000_000
"""No count and no rate is larger."""


@click.command("verify", short_help="Check the machine after an update or a change of parts.")
@click.argument("dump", required=False)
@click.option("--board", metavar="NAME|FILE", default="", help="Board record; default: the one whose name the board tells.")
@click.option("--cpu", metavar="NAME|FILE", default="", help="CPU record; default: the one whose name the CPU tells.")
@click.option("--firmware", metavar="VERSION", default="", help="Release that was to be written.")
@click.option("--slots", metavar="A,B", default="", help="Memory slots that hold a module, as printed on the board.")
@click.option("--rated", metavar="MT/S", type=click.IntRange(1, MOST), help="Rate on the modules' label.")
@json_option
@kb_option
def command(
    dump: str | None, board: str, cpu: str, firmware: str, slots: str, rated: int | None, as_json: bool, kb: Path | None
) -> None:
    """Compare what the machine says of itself with its records and with what was planned.

    DUMP is a copy of its SMBIOS table: on Linux, sudo cat /sys/firmware/dmi/tables/DMI > table.bin. A file that begins with an
    entry point is read too, and - reads standard input. Without DUMP a few values are asked at the terminal. Serial numbers are
    not read.
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
    )
    told = None if dump is None else read_dump(_bytes(dump))
    machine = _asked() if told is None else machine_of(told, expected.slots)
    expected = replace(
        expected,
        board=expected.board or recognise_board(knowledge, machine),
        cpu=expected.cpu or recognise_cpu(knowledge, machine),
    )
    if expected.board is not None:
        machine = _typed_slots(machine, expected.board) if told is None else machine_of(told, expected.board.slots)
    verify_screen.show(knowledge, expected, machine, verify(expected, machine), as_json)


def _bytes(file: str) -> bytes:
    """The bytes of the dump, one more than is allowed at most. Raises DumpError."""
    if file == "-":
        return sys.stdin.buffer.read(MAX_BYTES + 1) if sys.stdin is not None else b""
    try:
        with Path(file).open("rb") as stream:
            return stream.read(MAX_BYTES + 1)
    except OSError as error:
        raise DumpError(f"{file}: cannot be read: {error.strerror}") from None


def _asked() -> Machine:
    """What the person reads off the running machine."""
    click.echo("Read these off the machine. Enter: not shown, or not known.", err=True)
    board = _line("Board and revision, as the setup menu or the system shows it")
    machine = Machine(
        board=(board,) if board else (),
        firmware=_line("Firmware version that is shown now"),
        cpu=_line("CPU name that is shown"),
        cores=_number("Cores that the system shows"),
        threads=_number("Threads that the system shows"),
    )
    slots = split_slots(_line("Slots in which the setup menu shows a module, such as A2,B2"))
    rate = _number("Present rate of the memory in MT/s") if slots else None
    return replace(machine, modules=tuple(Module(slot, configured=rate) for slot in slots) or None)


def split_slots(text: str) -> tuple[str, ...]:
    """Slot names, parted by commas."""
    return tuple(slot.strip() for slot in text.split(",") if slot.strip())


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


def _line(question: str) -> str:
    return " ".join(str(click.prompt(question, default="", show_default=False, err=True)).split())


def _number(question: str) -> int | None:
    while typed := _line(question):
        if typed.isdecimal() and len(typed) < 8 and 0 < int(typed) <= MOST:
            return int(typed)
        click.echo("A number, please, or Enter when it is not known.", err=True)
    return None
