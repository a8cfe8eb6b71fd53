"""A running machine against the records: whether it is what an update or a change of parts was meant to make it.

`verify` gives all checks: board, firmware, support and CPU (name, state, cores and threads of each socket) are here,
those of memory in `verify_memory`. Versions are compared as text, never as numbers.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from nopost.firmware.check_result import CheckResult, Level
from nopost.firmware.record_queries import cpu_name, is_family_recorded, known_families, release_index
from nopost.firmware.verify.machine import Expected, Machine, without_placeholder
from nopost.firmware.verify.recognise import all_in, check_board, is_version, name_words, recorded_release
from nopost.firmware.verify.verify_memory import check_memory
from nopost.knowledge.reference_records import Cpu


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


def _support(expected: Expected, machine: Machine) -> Iterator[CheckResult]:
    """Whether the release that runs knows the CPU."""
    release = recorded_release(expected.board, machine.firmware)
    if (
        expected.board is None
        or expected.cpu is None
        or release is None
        or not is_family_recorded(expected.board, expected.cpu.family)
    ):
        return
    version, name = expected.board.releases[release].version, cpu_name(expected.cpu)
    if expected.cpu.family in known_families(expected.board, release):
        yield CheckResult(Level.GOOD, "support", f"Release {version} knows {name}.")
    else:
        do = "It may start by luck and fail later: go to a release that has this CPU on its list."
        yield CheckResult(Level.FIX, "support", f"By the record, release {version} does not know {name}.", do)


def check_cpu(cpu: Cpu | None, machine: Machine) -> Iterator[CheckResult]:
    """The checks of the CPU; on a board with several sockets those of each, with the socket's name before them."""
    if len(machine.sockets) < 2:
        yield from _cpu(cpu, machine)
        return
    for place, socket in enumerate(machine.sockets):
        name = socket.name or f"number {place + 1}"
        if socket.present is False:
            do = "If a CPU sits in it, it is not seen: check its power lead, its seat and the release."
            yield CheckResult(Level.NOTE, f"cpu {name}", f"Socket {name} is marked as empty.", do)
            continue
        alone = replace(
            machine,
            cpu=socket.cpu,
            cpu_present=socket.present,
            cpu_state=socket.state,
            cores=socket.cores,
            cores_enabled=socket.cores_enabled,
            threads=socket.threads,
        )
        for result in _cpu(cpu, alone):
            yield replace(result, code=f"{result.code} {name}", text=f"Socket {name}: {result.text}")
    names = dict.fromkeys(without_placeholder(socket.cpu) for socket in machine.sockets if without_placeholder(socket.cpu))
    if len(names) > 1:
        do = "Boards with several sockets want CPUs of one kind: read the print on their lids."
        yield CheckResult(Level.NOTE, "cpu-mixed", f"The sockets hold different CPUs: {', '.join(names)}.", do)


def _cpu(cpu: Cpu | None, machine: Machine) -> Iterator[CheckResult]:
    yield _cpu_name(cpu, machine)
    if machine.cpu_state in (2, 3):
        by = "by a person in the setup menu" if machine.cpu_state == 2 else "by the firmware after an error"
        yield CheckResult(
            Level.FIX, "cpu-state", f"The CPU is marked as switched off {by}.", "Load the setup defaults and start again."
        )
    if cpu is None:
        return
    yield _number("cores", cpu.cores, machine.cores, machine.cores_enabled, "core")
    yield _number("threads", cpu.threads, machine.threads, None, "thread")


def _cpu_name(cpu: Cpu | None, machine: Machine) -> CheckResult:
    if machine.cpu_present is False:
        do = "This table cannot be of the machine while it runs: make it anew."
        return CheckResult(Level.FIX, "cpu", "The CPU's socket is marked as empty.", do)
    if not without_placeholder(machine.cpu):
        old = "Firmware too old for a CPU often has no name for it: check the release, and the name in the setup menu."
        return CheckResult(Level.CHECK, "cpu", "The firmware has no name for the CPU.", old)
    if cpu is None:
        return CheckResult(
            Level.CHECK,
            "cpu",
            f"The CPU is named {machine.cpu}; no record to compare with.",
            "With a record of the CPU its name, cores and threads are compared.",
        )
    wanted, seen = name_words(cpu_name(cpu)), name_words(machine.cpu)
    if all_in(wanted, seen):
        return CheckResult(Level.GOOD, "cpu", f"The CPU is recognised: {machine.cpu}.")
    marks = [word for word in wanted if any(c.isdecimal() for c in word)]
    if marks and all_in(marks, seen):
        do = "Compare with the print on the CPU's lid."
        return CheckResult(Level.CHECK, "cpu", f"The CPU is named {machine.cpu}; it may be {cpu_name(cpu)}.", do)
    do = "Another CPU is fitted, or the firmware does not know this one: read the print on the lid, then check the release."
    return CheckResult(Level.FIX, "cpu", f"The CPU is named {machine.cpu}; {cpu_name(cpu)} was expected.", do)


def _number(name: str, wanted: int, seen: int | None, enabled: int | None, what: str) -> CheckResult:
    if seen is None:
        return CheckResult(Level.CHECK, name, f"The number of {what}s is not told.", f"The system should show {wanted} {what}s.")
    got = min(seen, enabled or seen)
    if got == wanted:
        return CheckResult(Level.GOOD, name, f"{got} {what}s, as the record says.")
    do = f"Look in the setup menu for a choice that switches {what}s off; load the defaults. If it stays, check CPU and release."
    if got > wanted:
        do = "Check that the CPU record is of this CPU."
    return CheckResult(Level.FIX, name, f"{got} {what}s are in use; the record says {wanted}.", do)
