"""A running machine against the records: whether it is what an update or a change of parts was meant to make it, and
from which board, release and CPU a plan begins.

`verify` gives all checks; those of CPU and memory are in `verify_parts`. Versions are compared as text, never as
numbers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nopost.errors import RecordError
from nopost.firmware.check_result import CheckResult, Level
from nopost.firmware.machine import Expected, Machine
from nopost.firmware.record_facts import is_told, is_variant, known_families, release_index
from nopost.firmware.verify_parts import check_cpu, check_memory, is_named, short_name
from nopost.knowledge.model import Knowledge
from nopost.knowledge.reference_records import Board, Cpu


def verify(expected: Expected, machine: Machine) -> tuple[CheckResult, ...]:
    """All checks, in the order in which a fault explains the next. Raises UnknownNameError for what the board does not have."""
    if expected.board is not None and expected.firmware:
        release_index(expected.board, expected.firmware)
    return (
        check_board(expected.board, machine),
        _firmware(expected, machine),
        *_support(expected, machine),
        *check_cpu(expected.cpu, machine),
        *check_memory(expected, machine),
    )


def recognise_board(knowledge: Knowledge, machine: Machine) -> Board | None:
    """The record that has one of the board's names, the fullest name first."""
    for name in machine.board:
        found = [board for board in knowledge.boards.values() if is_variant(board, name)]
        if len(found) == 1 and check_board(found[0], machine).level is not Level.FIX:
            return found[0]
    return None


def recognise_cpu(knowledge: Knowledge, machine: Machine) -> Cpu | None:
    """The record whose name the CPU has; the longest name when one holds another."""
    found = [cpu for cpu in knowledge.cpus.values() if is_named(cpu, machine.cpu)]
    return max(found, key=lambda cpu: len(short_name(cpu)), default=None)


def check_board(board: Board | None, machine: Machine) -> CheckResult:
    """Whether the board that the machine names is the record's."""
    names = machine.board
    if not names:
        read = "Read variant and revision from the print on the board."
        return CheckResult(Level.CHECK, "board", "The machine does not tell the name of its board.", read)
    if board is None:
        give = "With a record of the board its variant, firmware and slots are compared."
        return CheckResult(Level.CHECK, "board", f"The board calls itself {names[0]}; no record to compare with.", give)
    folded = [_folded(name) for name in names]
    alike = next((each for each in board.look_alikes if _folded(each) in folded), None)
    if alike is not None:
        do = "Write nothing more. Take record and image for the board that is printed on it."
        return CheckResult(Level.FIX, "board", f"The board calls itself {alike}, a look-alike of {board.variant}.", do)
    if any(is_variant(board, name) for name in names) and not _other_revision(board, names):
        return CheckResult(Level.GOOD, "board", f"The board calls itself {names[0]}: {board.variant}.")
    known = [_folded(each) for each in (board.variant, *board.identifiers, *board.look_alikes)]
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


def _firmware(expected: Expected, machine: Machine) -> CheckResult:
    planned, seen, board = expected.firmware, machine.firmware, expected.board
    if not seen:
        return CheckResult(Level.CHECK, "firmware", "The firmware's version is not told.", "Read it in the setup menu.")
    dated = f"{seen} of {machine.firmware_date}" if machine.firmware_date else seen
    if planned and is_version(planned, seen):
        return CheckResult(Level.GOOD, "firmware", f"The firmware is {dated}, as planned.")
    release = recorded_release(board, seen)
    if planned:
        newer = board is not None and release is not None and release > release_index(board, planned)
        place = "" if release is None else ", a newer release" if newer else ", an older release"
        chip = " or the second chip started" if board is not None and board.recovery.get("second_chip") else ""
        do = f"The write was not finished{chip}, or another file was taken: look in the setup menu, then plan the write anew."
        if newer:
            do = "Stay there when it knows the CPU: an older release may be refused."
        return CheckResult(Level.FIX, "firmware", f"The firmware is {dated}{place}; {planned} was planned.", do)
    if release is None:
        do = (
            "Compare it with the version that was to be written."
            if board is None
            else "Look for this version in the board's release list."
        )
        return CheckResult(Level.CHECK, "firmware", f"The firmware is {dated}; there is nothing to compare it with.", do)
    return CheckResult(Level.GOOD, "firmware", f"The firmware is {dated}, a release of the record.")


def is_version(version: str, seen: str) -> bool:
    """Whether this is the version, alone or as one of the words. Never compared as a number."""
    return version.casefold() in (seen.casefold().strip(), *seen.casefold().split())


def recorded_release(board: Board | None, seen: str) -> int | None:
    """Place of the release that the machine tells, if the record has it."""
    if board is None:
        return None
    return next((place for place, release in enumerate(board.releases) if is_version(release.version, seen)), None)


def _support(expected: Expected, machine: Machine) -> Iterator[CheckResult]:
    """Whether the release that runs knows the CPU."""
    release = recorded_release(expected.board, machine.firmware)
    if expected.board is None or expected.cpu is None or release is None or not is_told(expected.board, expected.cpu.family):
        return
    version, name = expected.board.releases[release].version, short_name(expected.cpu)
    if expected.cpu.family in known_families(expected.board, release):
        yield CheckResult(Level.GOOD, "support", f"Release {version} knows {name}.")
    else:
        do = "It may start by luck and fail later: go to a release that has this CPU on its list."
        yield CheckResult(Level.FIX, "support", f"By the record, release {version} does not know {name}.", do)


def _folded(name: str) -> str:
    return " ".join(name.casefold().split())


@dataclass(frozen=True, slots=True)
class PlanStart:
    """`cpu` None: the socket is empty. `notes`: what was taken from the table, and what to look at once more."""

    board: Board
    firmware: str
    cpu: Cpu | None
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StatedParts:
    """What a person gave by hand, which goes before the table. `empty`: the socket is."""

    board: Board | None = None
    firmware: str = ""
    cpu: Cpu | None = None
    empty: bool = False


def plan_start(knowledge: Knowledge, machine: Machine, given: StatedParts) -> PlanStart:
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
    return PlanStart(board, firmware, cpu, _notes(machine, given, board, firmware, cpu))


def _called(name: str, record: str = "") -> str:
    if not name:
        return "it tells no name" if not record else "it tells no version"
    return f"called {name}, which {f'the record of {record} does not have' if record else 'no record fits'}"


def _notes(machine: Machine, given: StatedParts, board: Board, firmware: str, cpu: Cpu | None) -> tuple[str, ...]:
    taken = (
        ("" if given.board else f"board {board.variant}"),
        ("" if given.firmware else f"release {firmware}"),
        ("" if given.cpu or given.empty else f"CPU {short_name(cpu)}" if cpu else "an empty CPU socket"),
    )
    told = ", ".join(each for each in taken if each)
    notes = [*machine.notes, *([f"From the table: {told}."] if told else [])]
    remark = check_board(board, machine)
    if remark.level is not Level.GOOD:
        notes.append(f"{remark.text} {remark.do}")
    return tuple(notes)
