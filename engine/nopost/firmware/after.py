"""After a write or a change of parts: whether the machine that starts again is what it was meant to become."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from nopost.firmware.after_check import Check, Expected, Verdict
from nopost.firmware.after_memory import memory_checks
from nopost.firmware.facts import is_variant, known_families, release_index
from nopost.firmware.machine import Machine, told
from nopost.knowledge.model import Board, Cpu, Knowledge


def verify(expected: Expected, machine: Machine) -> tuple[Check, ...]:
    """All checks, in the order in which a fault explains the next. Raises UnknownNameError for what the board does not have."""
    if expected.board is not None and expected.firmware:
        release_index(expected.board, expected.firmware)
    return (
        _board(expected.board, machine),
        _firmware(expected, machine),
        *_support(expected, machine),
        *_cpu(expected.cpu, machine),
        *memory_checks(expected, machine),
    )


def recognise_board(knowledge: Knowledge, machine: Machine) -> Board | None:
    """The record that has one of the board's names, the fullest name first."""
    for name in machine.board:
        found = [board for board in knowledge.boards.values() if is_variant(board, name)]
        if len(found) == 1 and _board(found[0], machine).verdict is not Verdict.WRONG:
            return found[0]
    return None


def recognise_cpu(knowledge: Knowledge, machine: Machine) -> Cpu | None:
    """The record whose name the CPU has; the longest name when one holds another."""
    found = [cpu for cpu in knowledge.cpus.values() if machine.cpu and _all_in(_words(short_name(cpu)), _words(machine.cpu))]
    return max(found, key=lambda cpu: len(short_name(cpu)), default=None)


def short_name(cpu: Cpu) -> str:
    """The name without what is told of it."""
    return cpu.title.split(",")[0].strip()


def _board(board: Board | None, machine: Machine) -> Check:
    names = machine.board
    if not names:
        read = "Read variant and revision from the print on the board."
        return Check("board", Verdict.OPEN, "The machine does not tell the name of its board.", read)
    if board is None:
        give = "With a record of the board its variant, firmware and slots are compared."
        return Check("board", Verdict.OPEN, f"The board calls itself {names[0]}; no record to compare with.", give)
    folded = [_folded(name) for name in names]
    alike = next((each for each in board.look_alikes if _folded(each) in folded), None)
    if alike is not None:
        do = "Write nothing more. Take record and image for the board that is printed on it."
        return Check("board", Verdict.WRONG, f"The board calls itself {alike}, a look-alike of {board.variant}.", do)
    if any(is_variant(board, name) for name in names) and not _other_revision(board, names):
        return Check("board", Verdict.OK, f"The board calls itself {names[0]}: {board.variant}.")
    known = [_folded(each) for each in (board.variant, *board.identifiers, *board.look_alikes)]
    if folded[-1] in known or any(each.startswith(f"{folded[-1]} ") for each in known):
        do = f"Compare the print on the board with {board.variant}, to the last letter."
        return Check("board", Verdict.OPEN, f"The board calls itself {names[0]}; that leaves variant or revision open.", do)
    do = "Compare the print on the board with the record; an image for another variant must not be written."
    return Check("board", Verdict.WRONG, f"The board calls itself {names[0]}; the record is of {board.variant}.", do)


def _other_revision(board: Board, names: Sequence[str]) -> bool:
    """Whether only the name without its revision fits, and the revision beside it is a number that is not the record's."""
    version = names[0].removeprefix(names[-1]).casefold().strip().removeprefix("rev").strip(" .")
    number = version.replace(".", "").isdecimal()
    return number and board.revision not in ("", version) and not any(is_variant(board, name) for name in names[:-1])


def _firmware(expected: Expected, machine: Machine) -> Check:
    planned, seen, board = expected.firmware, machine.firmware, expected.board
    if not seen:
        return Check("firmware", Verdict.OPEN, "The firmware's version is not told.", "Read it in the setup menu.")
    dated = f"{seen} of {machine.firmware_date}" if machine.firmware_date else seen
    if planned and is_version(planned, seen):
        return Check("firmware", Verdict.OK, f"The firmware is {dated}, as planned.")
    release = recorded_release(board, seen)
    if planned:
        newer = board is not None and release is not None and release > release_index(board, planned)
        place = "" if release is None else ", a newer release" if newer else ", an older release"
        chip = " or the second chip started" if board is not None and board.recovery.get("second_chip") else ""
        do = f"The write was not finished{chip}, or another file was taken: look in the setup menu, then plan the write anew."
        if newer:
            do = "Stay there when it knows the CPU: an older release may be refused."
        return Check("firmware", Verdict.WRONG, f"The firmware is {dated}{place}; {planned} was planned.", do)
    if release is None:
        do = (
            "Compare it with the version that was to be written."
            if board is None
            else "Look for this version in the board's release list."
        )
        return Check("firmware", Verdict.OPEN, f"The firmware is {dated}; there is nothing to compare it with.", do)
    return Check("firmware", Verdict.OK, f"The firmware is {dated}, a release of the record.")


def is_version(version: str, seen: str) -> bool:
    """Whether this is the version, alone or as one of the words. Never compared as a number."""
    return version.casefold() in (seen.casefold().strip(), *seen.casefold().split())


def recorded_release(board: Board | None, seen: str) -> int | None:
    """Place of the release that the machine tells, if the record has it."""
    if board is None:
        return None
    return next((place for place, release in enumerate(board.releases) if is_version(release.version, seen)), None)


def _support(expected: Expected, machine: Machine) -> Iterator[Check]:
    """Whether the release that runs knows the CPU."""
    release = recorded_release(expected.board, machine.firmware)
    if expected.board is None or expected.cpu is None or release is None:
        return
    version, name = expected.board.releases[release].version, short_name(expected.cpu)
    if expected.cpu.family in known_families(expected.board, release):
        yield Check("support", Verdict.OK, f"Release {version} knows {name}.")
    else:
        do = "It may start by luck and fail later: go to a release that has this CPU on its list."
        yield Check("support", Verdict.WRONG, f"By the record, release {version} does not know {name}.", do)


def _cpu(cpu: Cpu | None, machine: Machine) -> Iterator[Check]:
    yield _cpu_name(cpu, machine)
    if machine.cpu_state in (2, 3):
        by = "by a person in the setup menu" if machine.cpu_state == 2 else "by the firmware after an error"
        yield Check(
            "cpu-state", Verdict.WRONG, f"The CPU is marked as switched off {by}.", "Load the setup defaults and start again."
        )
    if cpu is None:
        return
    yield _number("cores", cpu.cores, machine.cores, machine.cores_enabled, "core")
    yield _number("threads", cpu.threads, machine.threads, None, "thread")


def _cpu_name(cpu: Cpu | None, machine: Machine) -> Check:
    if machine.cpu_present is False:
        do = "This table cannot be of the machine while it runs: make it anew."
        return Check("cpu", Verdict.WRONG, "The CPU's socket is marked as empty.", do)
    if not told(machine.cpu):
        old = "Firmware too old for a CPU often has no name for it: check the release, and the name in the setup menu."
        return Check("cpu", Verdict.OPEN, "The firmware has no name for the CPU.", old)
    if cpu is None:
        return Check(
            "cpu",
            Verdict.OPEN,
            f"The CPU is named {machine.cpu}; no record to compare with.",
            "With a record of the CPU its name, cores and threads are compared.",
        )
    wanted, seen = _words(short_name(cpu)), _words(machine.cpu)
    if _all_in(wanted, seen):
        return Check("cpu", Verdict.OK, f"The CPU is recognised: {machine.cpu}.")
    marks = [word for word in wanted if any(c.isdecimal() for c in word)]
    if marks and _all_in(marks, seen):
        do = "Compare with the print on the CPU's lid."
        return Check("cpu", Verdict.OPEN, f"The CPU is named {machine.cpu}; it may be {short_name(cpu)}.", do)
    do = "Another CPU is fitted, or the firmware does not know this one: read the print on the lid, then check the release."
    return Check("cpu", Verdict.WRONG, f"The CPU is named {machine.cpu}; {short_name(cpu)} was expected.", do)


def _number(name: str, wanted: int, seen: int | None, enabled: int | None, what: str) -> Check:
    if seen is None:
        return Check(name, Verdict.OPEN, f"The number of {what}s is not told.", f"The system should show {wanted} {what}s.")
    got = min(seen, enabled or seen)
    if got == wanted:
        return Check(name, Verdict.OK, f"{got} {what}s, as the record says.")
    do = f"Look in the setup menu for a choice that switches {what}s off; load the defaults. If it stays, check CPU and release."
    if got > wanted:
        do = "Check that the CPU record is of this CPU."
    return Check(name, Verdict.WRONG, f"{got} {what}s are in use; the record says {wanted}.", do)


def _folded(name: str) -> str:
    return " ".join(name.casefold().split())


def _words(name: str) -> list[str]:
    return name.casefold().replace("-", " ").split()


def _all_in(wanted: Iterable[str], seen: Iterable[str]) -> bool:
    have = set(seen)
    return all(word in have for word in wanted)
