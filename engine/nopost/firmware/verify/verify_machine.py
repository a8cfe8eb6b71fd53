"""A running machine against the records: whether it is what an update or a change of parts was meant to make it.

`verify` gives all checks: board, firmware and its support of the CPU; name, state, cores and threads of the CPU in each
socket; slots, order by the manual, type, size and rate of each memory module. Versions are compared as text, never as
numbers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from nopost.firmware.check_result import CheckResult, Level
from nopost.firmware.record_facts import check_slot_names, cpu_name, is_family_recorded, known_families, release_index
from nopost.firmware.verify.machine import Expected, Machine, MemoryModule, without_placeholder
from nopost.firmware.verify.recognise import all_in, check_board, name_words, names_version, recorded_release
from nopost.knowledge.reference_records import Board, Cpu


def verify(expected: Expected, machine: Machine) -> tuple[CheckResult, ...]:
    """All checks, in the order in which a fault explains the next. Raises UnknownNameError for what the board does not have."""
    if expected.board is not None and expected.firmware:
        release_index(expected.board, expected.firmware)
    return (
        check_board(expected.board, machine),
        _check_firmware(expected, machine),
        *_check_support(expected, machine),
        *check_cpu(expected.cpu, machine),
        *check_memory(expected, machine),
    )


def _check_firmware(expected: Expected, machine: Machine) -> CheckResult:
    planned, seen, board = expected.firmware, machine.firmware, expected.board
    if not seen:
        return CheckResult(Level.CHECK, "firmware", "The firmware's version is not told.", "Read it in the setup menu.")
    dated = f"{seen} of {machine.firmware_date}" if machine.firmware_date else seen
    if planned and names_version(planned, seen):
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


def _check_support(expected: Expected, machine: Machine) -> Iterator[CheckResult]:
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
        yield from _check_fitted_cpu(cpu, machine)
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
        for result in _check_fitted_cpu(cpu, alone):
            yield replace(result, code=f"{result.code} {name}", text=f"Socket {name}: {result.text}")
    names = dict.fromkeys(without_placeholder(socket.cpu) for socket in machine.sockets if without_placeholder(socket.cpu))
    if len(names) > 1:
        do = "Boards with several sockets want CPUs of one kind: read the print on their lids."
        yield CheckResult(Level.NOTE, "cpu-mixed", f"The sockets hold different CPUs: {', '.join(names)}.", do)


def _check_fitted_cpu(cpu: Cpu | None, machine: Machine) -> Iterator[CheckResult]:
    yield _check_cpu_name(cpu, machine)
    if machine.cpu_state in (2, 3):
        by = "by a person in the setup menu" if machine.cpu_state == 2 else "by the firmware after an error"
        yield CheckResult(
            Level.FIX, "cpu-state", f"The CPU is marked as switched off {by}.", "Load the setup defaults and start again."
        )
    if cpu is None:
        return
    yield _check_count("cores", cpu.cores, machine.cores, machine.cores_enabled, "core")
    yield _check_count("threads", cpu.threads, machine.threads, None, "thread")


def _check_cpu_name(cpu: Cpu | None, machine: Machine) -> CheckResult:
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


def _check_count(name: str, wanted: int, seen: int | None, enabled: int | None, what: str) -> CheckResult:
    if seen is None:
        return CheckResult(Level.CHECK, name, f"The number of {what}s is not told.", f"The system should show {wanted} {what}s.")
    got = min(seen, enabled or seen)
    if got == wanted:
        return CheckResult(Level.GOOD, name, f"{got} {what}s, as the record says.")
    do = f"Look in the setup menu for a choice that switches {what}s off; load the defaults. If it stays, check CPU and release."
    if got > wanted:
        do = "Check that the CPU record is of this CPU."
    return CheckResult(Level.FIX, name, f"{got} {what}s are in use; the record says {wanted}.", do)


STANDARD_RATES = {
    "DDR4": (1600, 1866, 2133, 2400, 2666, 2933, 3200),
    "DDR5": (3200, 3600, 4000, 4400, 4800, 5200, 5600, 6000, 6400, 6800, 7200, 7600, 8000, 8400, 8800),
}
"""Base rates in MT/s. Source: JEDEC JESD79-4C, tables 169 and 170, as restated in coreboot; JESD79-5C, speed bins, as tabulated
in the press."""
GIB, MIB = 1 << 30, 1 << 20
NEAR = 2
"""So many MT/s apart is the same rate: 2666 and 2667, 2933 and 2934 (judgement)."""


def check_memory(expected: Expected, machine: Machine) -> Iterator[CheckResult]:
    """Slots, order, and one check for each module. Raises UnknownNameError or RecordError for slots that cannot be."""
    check_slot_names(expected.slots, expected.board)
    modules = machine.modules
    if modules is None:
        do = "Compare number, slots and rate in the setup menu."
        yield CheckResult(Level.CHECK, "memory", "Nothing is told of the memory.", do)
        return
    yield _check_number_seen(expected.slots, modules)
    yield from _check_slot_order(expected, modules)
    yield from _check_types(expected.board, modules)
    yield from _check_sizes(expected.size, modules)
    yield from _check_alike(modules)
    for module in modules:
        yield _check_module(module, expected.rated)


def _check_number_seen(said: Sequence[str], modules: Sequence[MemoryModule]) -> CheckResult:
    places = ", ".join(module.place for module in modules) or "none"
    if not modules:
        do = "The table was not made by a running machine, or it does not tell: look in the setup menu."
        return CheckResult(Level.CHECK, "slots", "No memory slot is marked as in use.", do)
    if not said:
        do = "If more are fitted, one is not seen: its slot or its seating. Say which slots hold modules to have it found."
        return CheckResult(Level.CHECK, "slots", f"{_module_count(len(modules))} seen: {places}.", do)
    seen = [_said_name(module, said) for module in modules]
    missing = [slot for slot in said if slot not in seen]
    if len(modules) < len(said):
        where = f", none in {' and '.join(missing)}" if all(seen) else f" ({places})"
        return CheckResult(Level.FIX, "slots", f"{_module_count(len(modules))} of {len(said)} seen{where}.", _SEATING)
    if not all(module.slot or name for module, name in zip(modules, seen, strict=True)):
        do = f"The machine calls its slots otherwise: compare with the print on the board ({', '.join(said)})."
        return CheckResult(Level.CHECK, "slots", f"{_module_count(len(modules))} seen: {places}.", do)
    if missing or len(modules) > len(said):
        do = "Look which slots are really used; the manual shows how they are counted."
        return CheckResult(Level.FIX, "slots", f"Modules are seen in {places}; said was {', '.join(said)}.", do)
    return CheckResult(Level.GOOD, "slots", f"All modules are seen: {places}.")


_SEATING = (
    "Switch off, unplug, touch bare metal of the case, then push the missing module home until its clips close. If it stays "
    "away, change the two modules over: the fault goes along with the module, or stays with the slot (then also check the CPU's "
    "seat and the cooler's pressure)."
)


def _said_name(module: MemoryModule, said: Sequence[str]) -> str:
    """The slot as the person named it, "" when the machine names it otherwise."""
    names = {name.casefold(): name for name in said}
    return names.get(module.slot.casefold(), "") or names.get(module.locator.casefold(), "") or module.slot


def _check_slot_order(expected: Expected, modules: Sequence[MemoryModule]) -> Iterator[CheckResult]:
    board = expected.board
    used = list(expected.slots) or [module.slot for module in modules]
    if board is None or not used or not all(used):
        return
    wanted = board.slot_order.get(len(used))
    if wanted is None:
        do = "Look into the board's manual."
        yield CheckResult(Level.CHECK, "slot-order", f"The record has no order for {_module_count(len(used))}.", do)
    elif set(wanted) == set(used):
        yield CheckResult(Level.GOOD, "slot-order", f"{', '.join(used)}: first choice by the manual.")
    else:
        do = f"Switch off, unplug and move {'it' if len(used) == 1 else 'them'} to {', '.join(wanted)}."
        yield CheckResult(Level.FIX, "slot-order", f"In {', '.join(used)}; the manual wants {', '.join(wanted)} first.", do)


def _check_types(board: Board | None, modules: Sequence[MemoryModule]) -> Iterator[CheckResult]:
    """The keys of modules keep a wrong type out of the slot (common practice, no source), so a record is wrong, or the table."""
    other = [module for module in modules if board is not None and module.type and module.type != board.memory_type]
    if board is not None and other:
        told = ", ".join(f"{module.place}: {module.type}" for module in other)
        do = "A module of another type cannot run here: check the board's record, and the label on the modules."
        yield CheckResult(Level.FIX, "memory-type", f"The board takes {board.memory_type}, but the table names {told}.", do)


def _check_sizes(wanted: int | None, modules: Sequence[MemoryModule]) -> Iterator[CheckResult]:
    other = [module for module in modules if wanted and module.size and module.size != wanted]
    if wanted and other:
        told = ", ".join(f"{module.place}: {size_text(module.size)}" for module in other)
        do = "Read the label on the module. If it is right, part of it is not seen: clean the contacts, seat it anew."
        yield CheckResult(Level.FIX, "memory-size", f"{size_text(wanted)} each were put in; seen: {told}.", do)


def _check_alike(modules: Sequence[MemoryModule]) -> Iterator[CheckResult]:
    """Modules that are not alike may run well, so this is no fault (common practice, no source)."""
    told = (
        ("sizes", [size_text(module.size) for module in modules if module.size]),
        ("types", [module.type for module in modules if module.type]),
        ("ranks", [str(module.rank) for module in modules if module.rank]),
        ("rates on the label in MT/s", [str(module.rated) for module in modules if module.rated]),
        ("part numbers", [" ".join(module.part.split()) for module in modules if module.part.strip()]),
    )
    unlike = [f"{what} {' and '.join(dict.fromkeys(values))}" for what, values in told if len(set(values)) > 1]
    if unlike:
        do = "That is no fault by itself. If it proves unstable, try it with modules that are alike."
        yield CheckResult(Level.NOTE, "memory-mixed", f"The modules are not alike: {'; '.join(unlike)}.", do)


def _check_module(module: MemoryModule, label: int | None) -> CheckResult:
    rated = max(module.rated or 0, label or 0) or None
    told = (
        size_text(module.size),
        module.type,
        f"rated {rated} MT/s" if rated else "rate on the label unknown",
        f"runs at {module.configured} MT/s" if module.configured else "present rate unknown",
    )
    line = f"{module.place}: {', '.join(part for part in told if part)}"
    name = f"module {module.place}"
    if rated is None or module.configured is None:
        return CheckResult(Level.CHECK, name, f"{line}.", "Compare the rate in the setup menu with the module's label.")
    if module.configured >= rated - NEAR:
        return CheckResult(Level.GOOD, name, f"{line}{_rate_words(module.type, module.configured)}.", "" if label else _LABEL)
    if abs(2 * module.configured - rated) <= NEAR:  # from memory: the field once held the clock, half the transfers
        do = "Half the rate may be the clock, which some firmware gives here: compare with the setup menu."
        return CheckResult(Level.CHECK, name, f"{line}.", do)
    do = (
        "The rated profile is not selected, or the board lowered the rate for CPU or number of modules. When the machine has "
        "proved itself, select the profile in the setup menu; if it then fails, go back."
    )
    return CheckResult(Level.FIX, name, f"{line}{_rate_words(module.type, module.configured)}.", do)


_LABEL = "Some boards give the base rate here instead of the rated one: compare with the module's label."


def _rate_words(type_: str, rate: int) -> str:
    """Whether a rate in MT/s is one of the standard's base rates for this memory type, in words."""
    standard = STANDARD_RATES.get(type_)
    if standard is None:
        return ""
    base = next((each for each in standard if abs(each - rate) <= NEAR), None)
    return f" (a base rate of {type_}, JEDEC)" if base else f" (not a base rate of {type_})"


def size_text(size: int | None) -> str:
    """A size in bytes as GiB or MiB."""
    if not size:
        return "size unknown"
    return f"{size / GIB:g} GiB" if size >= GIB else f"{size / MIB:g} MiB"


def _module_count(number: int) -> str:
    return f"{number} module{'' if number == 1 else 's'}"
