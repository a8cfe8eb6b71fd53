"""The phases of a start-up: one table of their ids, their order, and what people see of them.

The ids are those of the UEFI Platform Initialization specification where it has a name (SEC, PEI, DXE, BDS, recovery, S3
resume); memory, the time after it, hand-over and runtime are parted off because faults differ there. The same ids stand in
`schemas/codes.schema.json`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Phase:
    """A phase.

    `id`: as a code table writes it, empty for a code that is in no table. `letter`: one character for narrow drawings, no two
    phases have the same. `short_name`: one or two words. `full_name`: for a legend.
    """

    id: str
    letter: str
    short_name: str
    full_name: str


_NORMAL = (
    Phase("sec", "S", "first steps", "first steps after reset (SEC)"),
    Phase("pei", "P", "before memory", "before memory works (PEI)"),
    Phase("memory", "M", "memory", "memory is found and started"),
    Phase("late-pei", "L", "after memory", "after memory, still early (PEI)"),
    Phase("dxe", "D", "devices", "devices and drivers (DXE)"),
    Phase("bds", "B", "boot choice", "picture, keyboard, choice of what to start (BDS)"),
    Phase("hand-over", "H", "hand-over", "hand-over to the system"),
    Phase("runtime", "R", "system runs", "the system runs"),
)
_BESIDE = (
    Phase("recovery", "V", "recovery", "recovery of the firmware"),
    Phase("resume", "W", "waking", "waking from sleep (S3)"),
    Phase("any", "A", "any phase", "a code of any phase"),
)
_SEVERAL = Phase("several", "+", "several", "several phases, drawn as one")
_UNKNOWN = Phase("", "?", "unknown", "not in the table")

PHASES = {phase.id: phase for phase in (*_NORMAL, *_BESIDE, _SEVERAL, _UNKNOWN)}
"""Every phase that a code, or a piece of a drawing, can have, in the order of a legend."""
PHASE_ORDER = tuple(phase.id for phase in _NORMAL)
"""Ids of the phases that a normal start-up passes through, in this order."""
BRANCH_PHASES = frozenset(phase.id for phase in _BESIDE)
"""Ids of the phases beside the normal order; their codes have no place in it."""
SEVERAL_PHASES = _SEVERAL.id
"""Id for codes of more than one phase that are drawn as one piece."""
PEI_RANK = PHASE_ORDER.index("pei")
MEMORY_RANK = PHASE_ORDER.index("memory")


def phase_of(phase_id: str) -> Phase:
    """The phase with this id; the unknown phase for any other text."""
    return PHASES.get(phase_id, _UNKNOWN)


def phase_rank(phase_id: str) -> int:
    """The index of a phase in `PHASE_ORDER`; -1 for one beside the normal order and for an unknown one."""
    return PHASE_ORDER.index(phase_id) if phase_id in PHASE_ORDER else -1
