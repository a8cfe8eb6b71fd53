"""Memory of a running machine against what is expected: slots, order by the manual, type, size and rate of each module."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nopost.firmware.check_result import CheckResult, Level
from nopost.firmware.record_queries import check_slot_names
from nopost.firmware.verify.machine import Expected, Machine, MemoryModule
from nopost.knowledge.reference_records import Board

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
    yield _slots(expected.slots, modules)
    yield from _order(expected, modules)
    yield from _types(expected.board, modules)
    yield from _sizes(expected.size, modules)
    yield from _mixed(modules)
    for module in modules:
        yield _module(module, expected.rated)


def _slots(said: Sequence[str], modules: Sequence[MemoryModule]) -> CheckResult:
    places = ", ".join(module.place for module in modules) or "none"
    if not modules:
        do = "The table was not made by a running machine, or it does not tell: look in the setup menu."
        return CheckResult(Level.CHECK, "slots", "No memory slot is marked as in use.", do)
    if not said:
        do = "If more are fitted, one is not seen: its slot or its seating. Say which slots hold modules to have it found."
        return CheckResult(Level.CHECK, "slots", f"{_count(len(modules))} seen: {places}.", do)
    seen = [_said_name(module, said) for module in modules]
    missing = [slot for slot in said if slot not in seen]
    if len(modules) < len(said):
        where = f", none in {' and '.join(missing)}" if all(seen) else f" ({places})"
        return CheckResult(Level.FIX, "slots", f"{_count(len(modules))} of {len(said)} seen{where}.", _SEATING)
    if not all(module.slot or name for module, name in zip(modules, seen, strict=True)):
        do = f"The machine calls its slots otherwise: compare with the print on the board ({', '.join(said)})."
        return CheckResult(Level.CHECK, "slots", f"{_count(len(modules))} seen: {places}.", do)
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


def _order(expected: Expected, modules: Sequence[MemoryModule]) -> Iterator[CheckResult]:
    board = expected.board
    used = list(expected.slots) or [module.slot for module in modules]
    if board is None or not used or not all(used):
        return
    wanted = board.slot_order.get(len(used))
    if wanted is None:
        do = "Look into the board's manual."
        yield CheckResult(Level.CHECK, "slot-order", f"The record has no order for {_count(len(used))}.", do)
    elif set(wanted) == set(used):
        yield CheckResult(Level.GOOD, "slot-order", f"{', '.join(used)}: first choice by the manual.")
    else:
        do = f"Switch off, unplug and move {'it' if len(used) == 1 else 'them'} to {', '.join(wanted)}."
        yield CheckResult(Level.FIX, "slot-order", f"In {', '.join(used)}; the manual wants {', '.join(wanted)} first.", do)


def _types(board: Board | None, modules: Sequence[MemoryModule]) -> Iterator[CheckResult]:
    """The keys of modules keep a wrong type out of the slot (common practice, no source), so a record is wrong, or the table."""
    other = [module for module in modules if board is not None and module.type and module.type != board.memory_type]
    if board is not None and other:
        told = ", ".join(f"{module.place}: {module.type}" for module in other)
        do = "A module of another type cannot run here: check the board's record, and the label on the modules."
        yield CheckResult(Level.FIX, "memory-type", f"The board takes {board.memory_type}, but the table names {told}.", do)


def _sizes(wanted: int | None, modules: Sequence[MemoryModule]) -> Iterator[CheckResult]:
    other = [module for module in modules if wanted and module.size and module.size != wanted]
    if wanted and other:
        told = ", ".join(f"{module.place}: {size_text(module.size)}" for module in other)
        do = "Read the label on the module. If it is right, part of it is not seen: clean the contacts, seat it anew."
        yield CheckResult(Level.FIX, "memory-size", f"{size_text(wanted)} each were put in; seen: {told}.", do)


def _mixed(modules: Sequence[MemoryModule]) -> Iterator[CheckResult]:
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


def _module(module: MemoryModule, label: int | None) -> CheckResult:
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
        return CheckResult(Level.GOOD, name, f"{line}{_kind(module.type, module.configured)}.", "" if label else _LABEL)
    if abs(2 * module.configured - rated) <= NEAR:  # from memory: the field once held the clock, half the transfers
        do = "Half the rate may be the clock, which some firmware gives here: compare with the setup menu."
        return CheckResult(Level.CHECK, name, f"{line}.", do)
    do = (
        "The rated profile is not selected, or the board lowered the rate for CPU or number of modules. When the machine has "
        "proved itself, select the profile in the setup menu; if it then fails, go back."
    )
    return CheckResult(Level.FIX, name, f"{line}{_kind(module.type, module.configured)}.", do)


_LABEL = "Some boards give the base rate here instead of the rated one: compare with the module's label."


def _kind(type_: str, rate: int) -> str:
    """What kind of rate it is, by the standard."""
    standard = STANDARD_RATES.get(type_)
    if standard is None:
        return ""
    base = next((each for each in standard if abs(each - rate) <= NEAR), None)
    return f" (a base rate of {type_}, JEDEC)" if base else f" (not a base rate of {type_})"


def size_text(size: int | None) -> str:
    """A module's size."""
    if not size:
        return "size unknown"
    return f"{size / GIB:g} GiB" if size >= GIB else f"{size / MIB:g} MiB"


def _count(number: int) -> str:
    return f"{number} module{'' if number == 1 else 's'}"
