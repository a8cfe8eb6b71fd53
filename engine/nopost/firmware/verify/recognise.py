"""Which records a running machine is of: its board, its CPU and the release that it runs; and from which board, release
and CPU a plan begins.

Versions are compared as text, never as numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nopost.errors import RecordError
from nopost.firmware.check_result import CheckResult, Level
from nopost.firmware.record_facts import cpu_name, is_variant, plain_name
from nopost.firmware.verify.machine import Machine
from nopost.knowledge.model import Knowledge
from nopost.knowledge.reference_records import Board, Cpu


def recognise_board(knowledge: Knowledge, machine: Machine) -> Board | None:
    """The record that has one of the names that the board gives itself, the fullest first; None when none or several have it."""
    for name in machine.board:
        found = [board for board in knowledge.boards.values() if is_variant(board, name)]
        if len(found) == 1 and check_board(found[0], machine).level is not Level.FIX:
            return found[0]
    return None


def recognise_cpu(knowledge: Knowledge, machine: Machine) -> Cpu | None:
    """The record whose name the CPU has; the longest name when one holds another."""
    found = [cpu for cpu in knowledge.cpus.values() if is_named(cpu, machine.cpu)]
    return max(found, key=lambda cpu: len(cpu_name(cpu)), default=None)


def check_board(board: Board | None, machine: Machine) -> CheckResult:
    """Whether the board that the machine names is the one of the record; a look-alike or another revision is to FIX."""
    names = machine.board
    if not names:
        read = "Read variant and revision from the print on the board."
        return CheckResult(Level.CHECK, "board", "The machine does not tell the name of its board.", read)
    if board is None:
        give = "With a record of the board its variant, firmware and slots are compared."
        return CheckResult(Level.CHECK, "board", f"The board calls itself {names[0]}; no record to compare with.", give)
    folded = [plain_name(name) for name in names]
    alike = next((each for each in board.look_alikes if plain_name(each) in folded), None)
    if alike is not None:
        do = "Write nothing more. Take record and image for the board that is printed on it."
        return CheckResult(Level.FIX, "board", f"The board calls itself {alike}, a look-alike of {board.variant}.", do)
    if any(is_variant(board, name) for name in names) and not _other_revision(board, names):
        return CheckResult(Level.GOOD, "board", f"The board calls itself {names[0]}: {board.variant}.")
    known = [plain_name(each) for each in (board.variant, *board.identifiers, *board.look_alikes)]
    if folded[-1] in known or any(each.startswith(f"{folded[-1]} ") for each in known):
        do = f"Compare the print on the board with {board.variant}, to the last letter."
        return CheckResult(Level.CHECK, "board", f"The board calls itself {names[0]}; that leaves variant or revision open.", do)
    do = "Compare the print on the board with the record; an image for another variant must not be written."
    return CheckResult(Level.FIX, "board", f"The board calls itself {names[0]}; the record is of {board.variant}.", do)


def _other_revision(board: Board, names: Sequence[str]) -> bool:
    """Whether only the name without its revision fits, and the revision beside it is a number that is not the record's."""
    version = names[0].removeprefix(names[-1]).casefold().strip().removeprefix("rev").strip(" .")
    number = version.replace(".", "").isdecimal()
    return number and board.revision not in ("", version) and not any(is_variant(board, name) for name in names[:-1])


def is_named(cpu: Cpu, seen: str) -> bool:
    """Whether the name that the machine tells holds all words of the record's."""
    return bool(seen) and all_in(name_words(cpu_name(cpu)), name_words(seen))


def name_words(name: str) -> list[str]:
    """The words of a CPU's name in small letters, a hyphen as a blank."""
    return name.casefold().replace("-", " ").split()


def all_in(wanted: Iterable[str], seen: Iterable[str]) -> bool:
    """Whether every wanted word is among the seen ones, in any order."""
    have = set(seen)
    return all(word in have for word in wanted)


def names_version(version: str, seen: str) -> bool:
    """Whether this is the version, alone or as one of the words. Never compared as a number."""
    return version.casefold() in (seen.casefold().strip(), *seen.casefold().split())


def recorded_release(board: Board | None, seen: str) -> int | None:
    """Place of the release that the machine tells, if the record has it."""
    if board is None:
        return None
    return next((place for place, release in enumerate(board.releases) if names_version(release.version, seen)), None)


@dataclass(frozen=True, slots=True)
class PlanStart:
    """What a plan begins with: the board, the version of the release on it, and the fitted CPU, None for an empty socket.

    `notes`: what was taken from the table, and what to look at once more.
    """

    board: Board
    firmware: str
    cpu: Cpu | None
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StatedParts:
    """What a person gave by hand, which goes before the table. `empty`: the CPU socket is."""

    board: Board | None = None
    firmware: str = ""
    cpu: Cpu | None = None
    empty: bool = False


def plan_start(knowledge: Knowledge, machine: Machine, given: StatedParts) -> PlanStart:
    """Board, release and CPU from which a plan begins, each from the person's word or else from the table.

    Raises RecordError, in one line, for what neither of them settles.
    """
    board = given.board or recognise_board(knowledge, machine)
    release = None if given.firmware else recorded_release(board, machine.firmware)
    empty = given.empty or (given.cpu is None and machine.cpu_present is False)
    cpu = given.cpu or (None if empty else recognise_cpu(knowledge, machine))
    unsettled = []
    if board is None:
        unsettled.append(f"the board ({_called(machine.board[0] if machine.board else '')}): give its record with --board")
    elif not given.firmware and release is None:
        unsettled.append(f"the release ({_called(machine.firmware, board.variant)}): give it with --firmware")
    if cpu is None and not empty:
        unsettled.append(f"the fitted CPU ({_called(machine.cpu)}): give its record with --fitted")
    if board is None or unsettled:
        raise RecordError(f"the table does not settle {'; nor '.join(unsettled)}")
    firmware = given.firmware or board.releases[release or 0].version
    return PlanStart(board, firmware, cpu, _notes(machine, given, board, firmware, cpu))


def _called(name: str, record: str = "") -> str:
    if not name:
        return "it tells no name" if not record else "it tells no version"
    return f"called {name}, which {f'the record of {record} does not have' if record else 'no record fits'}"


def _notes(machine: Machine, given: StatedParts, board: Board, firmware: str, cpu: Cpu | None) -> tuple[str, ...]:
    taken = (
        ("" if given.board else f"board {board.variant}"),
        ("" if given.firmware else f"release {firmware}"),
        ("" if given.cpu or given.empty else f"CPU {cpu_name(cpu)}" if cpu else "an empty CPU socket"),
    )
    told = ", ".join(each for each in taken if each)
    notes = [*machine.notes, *([f"From the table: {told}."] if told else [])]
    result = check_board(board, machine)
    if result.level is not Level.GOOD:
        notes.append(f"{result.text} {result.do}")
    return tuple(notes)
