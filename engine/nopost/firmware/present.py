"""Where a plan begins, as the SMBIOS table of the running machine tells it: board, release and fitted CPU."""

from __future__ import annotations

from dataclasses import dataclass

from nopost.errors import RecordError
from nopost.firmware.after import board_remark, recognise_board, recognise_cpu, recorded_release
from nopost.firmware.after_cpu import short_name
from nopost.firmware.machine import Machine
from nopost.firmware.remark import Level
from nopost.knowledge.model import Board, Cpu, Knowledge


@dataclass(frozen=True, slots=True)
class Present:
    """`cpu` None: the socket is empty. `notes`: what was taken from the table, and what to look at once more."""

    board: Board
    firmware: str
    cpu: Cpu | None
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Given:
    """What a person gave by hand, which goes before the table. `empty`: the socket is."""

    board: Board | None = None
    firmware: str = ""
    cpu: Cpu | None = None
    empty: bool = False


def present_of(knowledge: Knowledge, machine: Machine, given: Given) -> Present:
    """Board, release and CPU. Raises RecordError, in one line, for what neither the table nor the person settles."""
    board = given.board or recognise_board(knowledge, machine)
    release = None if given.firmware else recorded_release(board, machine.firmware)
    empty = given.empty or (given.cpu is None and machine.cpu_present is False)
    cpu = given.cpu or (None if empty else recognise_cpu(knowledge, machine))
    lacks = []
    if board is None:
        lacks.append(f"the board ({_called(machine.board[0] if machine.board else '')}): give its record with --board")
    elif not given.firmware and release is None:
        lacks.append(f"the release ({_called(machine.firmware, board.variant)}): give it with --firmware")
    if cpu is None and not empty:
        lacks.append(f"the fitted CPU ({_called(machine.cpu)}): give its record with --fitted")
    if board is None or lacks:
        raise RecordError(f"the table does not settle {'; nor '.join(lacks)}")
    firmware = given.firmware or board.releases[release or 0].version
    return Present(board, firmware, cpu, _notes(machine, given, board, firmware, cpu))


def _called(name: str, record: str = "") -> str:
    if not name:
        return "it tells no name" if not record else "it tells no version"
    return f"called {name}, which {f'the record of {record} does not have' if record else 'no record fits'}"


def _notes(machine: Machine, given: Given, board: Board, firmware: str, cpu: Cpu | None) -> tuple[str, ...]:
    taken = (
        ("" if given.board else f"board {board.variant}"),
        ("" if given.firmware else f"release {firmware}"),
        ("" if given.cpu or given.empty else f"CPU {short_name(cpu)}" if cpu else "an empty CPU socket"),
    )
    told = ", ".join(each for each in taken if each)
    notes = [*machine.notes, *([f"From the table: {told}."] if told else [])]
    remark = board_remark(board, machine)
    if remark.level is not Level.GOOD:
        notes.append(f"{remark.text} {remark.do}")
    return tuple(notes)
