"""`nopost verify`: is the machine that starts again what it was meant to become?

Where there is no SMBIOS table it asks what was planned and what is read off the machine.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nopost.errors import NopostError
from nopost.text import comma_parts
from nopost_cli.shared.options import json_option, kb_option, knowledge_of
from nopost_cli.shared.prompts import ask, tell
from nopost_cli.shared.terminal import clean, dump_of, is_interactive, make_console, print_json

if TYPE_CHECKING:
    from rich.console import RenderableType

    from nopost.firmware.check_result import CheckResult
    from nopost.firmware.verify.machine import Expected, Machine
    from nopost.knowledge.model import Knowledge
    from nopost.knowledge.reference_records import Board

LARGEST_NUMBER = 1_000_000
"""No count and no rate is larger."""
GIB = 1 << 30
SAID = {"good": "ok", "fix": "wrong", "check": "cannot tell", "note": "note"}
"""Level of a result -> the verdict in words."""
STYLES = {"good": "green", "fix": "bold red", "check": "yellow", "note": ""}
_REVISION = re.compile(r"(?P<product>.*?[^\s,])[\s,]+(?:rev(?:ision)?\b\.?\s*)?(?P<number>\d+(?:\.\d+)*)", re.IGNORECASE)


def asked_plan(knowledge: Knowledge) -> Expected:
    """What the person planned; each answer is checked at once."""
    from nopost.firmware.record_facts import release_index
    from nopost.firmware.records import find_board, find_cpu
    from nopost.firmware.verify.machine import Expected

    tell("First what was planned. Enter: nothing planned, or not known.")
    board_name = ask("Board record, a name or a file", check=_refused(lambda text: find_board(text, knowledge)))
    board = find_board(board_name, knowledge) if board_name else None
    cpu = ask("CPU record, a name or a file", check=_refused(lambda text: find_cpu(text, knowledge)))
    release = _refused(lambda text: release_index(board, text) if board is not None else None)
    return Expected(
        board=board,
        cpu=find_cpu(cpu, knowledge) if cpu else None,
        firmware=ask("Release that was to be written", check=release),
        slots=split_slots(ask("Slots that hold a module, such as A2,B2", check=lambda text: _slots_wrong(text, board)), board),
        size=_size(ask("Size of each module in GiB, from its label", check=_number_wrong)),
        rated=number_of(ask("Rate on the modules' label in MT/s", check=_number_wrong)),
    )


def asked_machine() -> Machine:
    """What the person reads off the running machine."""
    from nopost.firmware.verify.machine import Machine, MemoryModule

    tell("Read these off the machine. Enter: not shown, or not known.")
    board = ask("Board and revision, as the setup menu or the system shows it")
    machine = Machine(
        board=board_names(board),
        firmware=ask("Firmware version that is shown now"),
        cpu=ask("CPU name that is shown"),
        cores=number_of(ask("Cores that the system shows", check=_number_wrong)),
        threads=number_of(ask("Threads that the system shows", check=_number_wrong)),
    )
    slots = split_slots(ask("Slots in which the setup menu shows a module, such as A2,B2"))
    if not slots:
        return machine
    sizes = ask("Size of each in GiB, in this order, such as 16,16", check=lambda text: _sizes_wrong(text, len(slots)))
    rate = number_of(ask("Present rate of the memory in MT/s", check=_number_wrong))
    found = [_size(text.strip()) for text in sizes.split(",")] if sizes else [None] * len(slots)
    modules = tuple(MemoryModule(slot, size=size, configured=rate) for slot, size in zip(slots, found, strict=True))
    return replace(machine, modules=modules)


def board_names(typed: str) -> tuple[str, ...]:
    """A typed name in the writings in which a table has it, the fullest first; a number at its end can be the revision."""
    found = _REVISION.fullmatch(typed)
    if not found:
        return (typed,) if typed else ()
    product, number = found["product"], found["number"]
    return tuple(dict.fromkeys((f"{product} {number}", f"{product} rev {number}", product)))


def split_slots(text: str, board: Board | None = None) -> tuple[str, ...]:
    """Slot names, parted by commas, as the board writes them."""
    names = {slot.casefold(): slot for slot in (board.slots if board else ())}
    return tuple(names.get(slot.casefold(), slot) for slot in comma_parts(text))


def number_of(text: str) -> int | None:
    """A typed number that was found good, or nothing."""
    return int(text) if text else None


def _size(text: str) -> int | None:
    return int(text) * GIB if text else None


def _number_wrong(text: str) -> str:
    good = not text or (text.isdecimal() and len(text) < 8 and 0 < int(text) <= LARGEST_NUMBER)
    return "" if good else "A number, please, or Enter when it is not known."


def _sizes_wrong(text: str, count: int) -> str:
    parts = [part.strip() for part in text.split(",")]
    if not text or (len(parts) == count and all(part and not _number_wrong(part) for part in parts)):
        return ""
    return f"{count} number{'s, parted by commas' if count > 1 else ''}, please, or Enter when it is not known."


def _slots_wrong(text: str, board: Board | None) -> str:
    slots = split_slots(text, board)
    unknown = [slot for slot in slots if board is not None and slot not in board.slots]
    if board is not None and unknown:
        return f"{board.variant} has no slot {unknown[0]}; it has {', '.join(board.slots)}."
    return "A slot is named twice." if len(set(slots)) < len(slots) else ""


def _refused(find: Callable[[str], object]) -> Callable[[str], str]:
    """A check: the message of what the search for this name raises."""

    def check(text: str) -> str:
        try:
            if text:
                find(text)
        except NopostError as error:
            return f"{error}" if f"{error}".endswith("?") else f"{error}."
        return ""

    return check


def show_checks(knowledge: Knowledge, expected: Expected, machine: Machine, checks: Sequence[CheckResult], as_json: bool) -> None:
    """The checks, a line that sums them up, and what an update resets."""
    from rich.text import Text

    from nopost_cli.shared.screens import bullet_list

    if as_json:
        print_json("verify", _data(knowledge, expected, machine, checks))
        return
    console = make_console()
    for note in machine.notes:
        console.print(Text(clean(note), style="bold"))
    console.print(_table(checks))
    console.print(Text(f"\n{_sum(checks)}", style="bold"))
    console.print(bullet_list(console, "An update resets these settings; set them again", knowledge.base.reset_settings))


def _table(checks: Sequence[CheckResult]) -> RenderableType:
    from rich.table import Table
    from rich.text import Text

    grid = Table.grid(padding=(0, 1))
    grid.add_column(width=11, no_wrap=True)
    grid.add_column(ratio=1)
    for check in checks:
        grid.add_row(Text(SAID[check.level], style=STYLES[check.level]), Text(clean(check.text)))
        if check.do:
            grid.add_row("", Text(clean(check.do), style="dim"))
    return grid


def _sum(checks: Sequence[CheckResult]) -> str:
    from nopost.firmware.check_result import Level

    counts = [(sum(check.level == verdict for check in checks), said) for verdict, said in SAID.items()]
    wrong = sum(check.level is Level.FIX for check in checks)
    begin = " Begin with the first that is wrong: it may explain the next." if wrong > 1 else ""
    return "Checks: " + ", ".join(f"{number} {said}" for number, said in counts if number) + f".{begin}"


def _data(knowledge: Knowledge, expected: Expected, machine: Machine, checks: Sequence[CheckResult]) -> dict[str, Any]:
    from nopost.firmware.check_result import Level

    return {
        "board": expected.board.id if expected.board else None,
        "cpu": expected.cpu.id if expected.cpu else None,
        "wrong": sum(check.level is Level.FIX for check in checks),
        "checks": [
            {"id": check.code, "verdict": SAID[check.level].replace(" ", "-"), "line": check.text, "do": check.do}
            for check in checks
        ],
        "machine": asdict(machine),
        "reset_settings": list(knowledge.base.reset_settings),
    }


@click.command("verify", short_help="Check the machine after an update or a change of parts.")
@click.argument("dump", required=False)
@click.option("--board", metavar="NAME|FILE", default="", help="Board record; default: the one whose name the board tells.")
@click.option("--cpu", metavar="NAME|FILE", default="", help="CPU record; default: the one whose name the CPU tells.")
@click.option("--firmware", metavar="VERSION", default="", help="Release that was to be written.")
@click.option("--slots", metavar="A,B", default="", help="Memory slots that hold a module, as printed on the board.")
@click.option("--rated", metavar="MT/S", type=click.IntRange(1, LARGEST_NUMBER), help="Rate on the modules' label.")
@click.option("--size", metavar="GIB", type=click.IntRange(1, LARGEST_NUMBER), help="Size of each module, from its label.")
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
    from nopost.firmware.records import find_board, find_cpu
    from nopost.firmware.verify.machine import Expected, machine_of
    from nopost.firmware.verify.recognise import recognise_board, recognise_cpu
    from nopost.firmware.verify.verify_machine import verify

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
    show_checks(knowledge, expected, machine, verify(expected, machine), as_json)


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
