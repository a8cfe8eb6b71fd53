"""The memory half of the checks: slots, seating, order by the manual, and rates."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nopost.errors import RecordError, UnknownNameError
from nopost.firmware.after_check import Check, Expected, Verdict
from nopost.firmware.machine import Machine, Module

STANDARD_RATES = {
    "DDR4": (1600, 1866, 2133, 2400, 2666, 2933, 3200),
    "DDR5": (3200, 3600, 4000, 4400, 4800, 5200, 5600, 6000, 6400, 6800, 7200, 7600, 8000, 8400, 8800),
}
"""Base rates in MT/s. Source: JEDEC JESD79-4C, tables 169 and 170; JESD79-5C, speed bins."""
GIB, MIB = 1 << 30, 1 << 20
NEAR = 2
"""So many MT/s apart is the same rate: 2666 and 2667, 2933 and 2934 (judgement)."""


def memory_checks(expected: Expected, machine: Machine) -> Iterator[Check]:
    """Slots, order, and one check for each module. Raises UnknownNameError or RecordError for slots that cannot be."""
    _check_slots(expected)
    modules = machine.modules
    if modules is None:
        do = "Compare number, slots and rate in the setup menu."
        yield Check("memory", Verdict.OPEN, "Nothing is told of the memory.", do)
        return
    yield _slots(expected.slots, modules)
    yield from _order(expected, modules)
    for module in modules:
        yield _module(module, expected.rated)


def _check_slots(expected: Expected) -> None:
    board, slots = expected.board, expected.slots
    unknown = [slot for slot in slots if board is not None and slot not in board.slots]
    if board is not None and unknown:
        raise UnknownNameError(f"memory slot of {board.variant}", unknown[0], board.slots)
    if len(set(slots)) < len(slots):
        raise RecordError(f"a memory slot is named twice: {', '.join(slots)}")


def _slots(said: Sequence[str], modules: Sequence[Module]) -> Check:
    places = ", ".join(module.place for module in modules) or "none"
    if not modules:
        do = "The table was not made by a running machine, or it does not tell: look in the setup menu."
        return Check("slots", Verdict.OPEN, "No memory slot is marked as in use.", do)
    if not said:
        do = "When it is said which slots hold modules, a missing one is found."
        return Check("slots", Verdict.OPEN, f"{_count(len(modules))} seen: {places}.", do)
    seen = [_said_name(module, said) for module in modules]
    missing = [slot for slot in said if slot not in seen]
    if len(modules) < len(said):
        where = f", none in {' and '.join(missing)}" if all(seen) else f" ({places})"
        return Check("slots", Verdict.WRONG, f"{_count(len(modules))} of {len(said)} seen{where}.", _SEATING)
    if not all(module.slot or name for module, name in zip(modules, seen, strict=True)):
        do = f"The machine calls its slots otherwise: compare with the print on the board ({', '.join(said)})."
        return Check("slots", Verdict.OPEN, f"{_count(len(modules))} seen: {places}.", do)
    if missing or len(modules) > len(said):
        do = "Look which slots are really used; the manual shows how they are counted."
        return Check("slots", Verdict.WRONG, f"Modules are seen in {places}; said was {', '.join(said)}.", do)
    return Check("slots", Verdict.OK, f"All modules are seen: {places}.")


_SEATING = (
    "Switch off, unplug, touch bare metal of the case, then push the missing module home until its clips close. If it stays "
    "away, change the two modules over: the fault goes along with the module, or stays with the slot (then also check the CPU's "
    "seat and the cooler's pressure)."
)


def _said_name(module: Module, said: Sequence[str]) -> str:
    """The slot as the person named it, "" when the machine names it otherwise."""
    names = {name.casefold(): name for name in said}
    return names.get(module.slot.casefold(), "") or names.get(module.locator.casefold(), "") or module.slot


def _order(expected: Expected, modules: Sequence[Module]) -> Iterator[Check]:
    board = expected.board
    used = list(expected.slots) or [module.slot for module in modules]
    if board is None or not used or not all(used):
        return
    wanted = board.slot_order.get(len(used))
    if wanted is None:
        do = "Look into the board's manual."
        yield Check("slot-order", Verdict.OPEN, f"The record has no order for {_count(len(used))}.", do)
    elif set(wanted) == set(used):
        yield Check("slot-order", Verdict.OK, f"{', '.join(used)}: first choice by the manual.")
    else:
        do = f"Switch off, unplug and move {'it' if len(used) == 1 else 'them'} to {', '.join(wanted)}."
        yield Check("slot-order", Verdict.WRONG, f"In {', '.join(used)}; the manual wants {', '.join(wanted)} first.", do)


def _module(module: Module, label: int | None) -> Check:
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
        return Check(name, Verdict.OPEN, f"{line}.", "Compare the rate in the setup menu with the module's label.")
    if module.configured >= rated - NEAR:
        return Check(name, Verdict.OK, f"{line}{_kind(module.type, module.configured)}.", "" if label else _LABEL)
    if abs(2 * module.configured - rated) <= NEAR:
        do = "Half the rate may be the clock, which some firmware gives here: compare with the setup menu."
        return Check(name, Verdict.OPEN, f"{line}.", do)
    do = (
        "The rated profile is not selected, or the board lowered the rate for CPU or number of modules. When the machine has "
        "proved itself, select the profile in the setup menu; if it then fails, go back."
    )
    return Check(name, Verdict.WRONG, f"{line}{_kind(module.type, module.configured)}.", do)


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
