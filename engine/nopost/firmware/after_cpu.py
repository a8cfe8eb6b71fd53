"""The CPU half of the checks: name, state, cores and threads, for each socket."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from nopost.firmware.machine import Machine, told
from nopost.firmware.remark import Level, Remark
from nopost.knowledge.model import Cpu


def cpu_checks(cpu: Cpu | None, machine: Machine) -> Iterator[Remark]:
    """The checks of the CPU; on a board with several sockets those of each, with the socket's name before them."""
    if len(machine.sockets) < 2:
        yield from _cpu(cpu, machine)
        return
    for place, socket in enumerate(machine.sockets):
        name = socket.name or f"number {place + 1}"
        if socket.present is False:
            do = "If a CPU sits in it, it is not seen: check its power lead, its seat and the release."
            yield Remark(Level.NOTE, f"cpu {name}", f"Socket {name} is marked as empty.", do)
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
        for remark in _cpu(cpu, alone):
            yield replace(remark, code=f"{remark.code} {name}", text=f"Socket {name}: {remark.text}")
    names = dict.fromkeys(told(socket.cpu) for socket in machine.sockets if told(socket.cpu))
    if len(names) > 1:
        do = "Boards with several sockets want CPUs of one kind: read the print on their lids."
        yield Remark(Level.NOTE, "cpu-mixed", f"The sockets hold different CPUs: {', '.join(names)}.", do)


def short_name(cpu: Cpu) -> str:
    """The name without what is told of it."""
    return cpu.title.split(",")[0].strip()


def is_named(cpu: Cpu, seen: str) -> bool:
    """Whether the name that the machine tells holds all words of the record's."""
    return bool(seen) and _all_in(_words(short_name(cpu)), _words(seen))


def _cpu(cpu: Cpu | None, machine: Machine) -> Iterator[Remark]:
    yield _cpu_name(cpu, machine)
    if machine.cpu_state in (2, 3):
        by = "by a person in the setup menu" if machine.cpu_state == 2 else "by the firmware after an error"
        yield Remark(
            Level.FIX, "cpu-state", f"The CPU is marked as switched off {by}.", "Load the setup defaults and start again."
        )
    if cpu is None:
        return
    yield _number("cores", cpu.cores, machine.cores, machine.cores_enabled, "core")
    yield _number("threads", cpu.threads, machine.threads, None, "thread")


def _cpu_name(cpu: Cpu | None, machine: Machine) -> Remark:
    if machine.cpu_present is False:
        do = "This table cannot be of the machine while it runs: make it anew."
        return Remark(Level.FIX, "cpu", "The CPU's socket is marked as empty.", do)
    if not told(machine.cpu):
        old = "Firmware too old for a CPU often has no name for it: check the release, and the name in the setup menu."
        return Remark(Level.CHECK, "cpu", "The firmware has no name for the CPU.", old)
    if cpu is None:
        return Remark(
            Level.CHECK,
            "cpu",
            f"The CPU is named {machine.cpu}; no record to compare with.",
            "With a record of the CPU its name, cores and threads are compared.",
        )
    wanted, seen = _words(short_name(cpu)), _words(machine.cpu)
    if _all_in(wanted, seen):
        return Remark(Level.GOOD, "cpu", f"The CPU is recognised: {machine.cpu}.")
    marks = [word for word in wanted if any(c.isdecimal() for c in word)]
    if marks and _all_in(marks, seen):
        do = "Compare with the print on the CPU's lid."
        return Remark(Level.CHECK, "cpu", f"The CPU is named {machine.cpu}; it may be {short_name(cpu)}.", do)
    do = "Another CPU is fitted, or the firmware does not know this one: read the print on the lid, then check the release."
    return Remark(Level.FIX, "cpu", f"The CPU is named {machine.cpu}; {short_name(cpu)} was expected.", do)


def _number(name: str, wanted: int, seen: int | None, enabled: int | None, what: str) -> Remark:
    if seen is None:
        return Remark(Level.CHECK, name, f"The number of {what}s is not told.", f"The system should show {wanted} {what}s.")
    got = min(seen, enabled or seen)
    if got == wanted:
        return Remark(Level.GOOD, name, f"{got} {what}s, as the record says.")
    do = f"Look in the setup menu for a choice that switches {what}s off; load the defaults. If it stays, check CPU and release."
    if got > wanted:
        do = "Check that the CPU record is of this CPU."
    return Remark(Level.FIX, name, f"{got} {what}s are in use; the record says {wanted}.", do)


def _words(name: str) -> list[str]:
    return name.casefold().replace("-", " ").split()


def _all_in(wanted: Iterable[str], seen: Iterable[str]) -> bool:
    have = set(seen)
    return all(word in have for word in wanted)
