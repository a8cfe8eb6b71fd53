"""Codes as events: what every reader makes of a text, and the phases of a start-up that tables name."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class CodeForm(StrEnum):
    """What kind of sign an event is; the `form` of a code table."""

    HEX = "hex"
    BEEPS = "beeps"
    LAMPS = "lamps"
    STATES = "states"
    FIRMWARE_EVENTS = "firmware-events"


BLANK_CODES = frozenset({"00", "FF", "0000", "FFFF", "00000000", "FFFFFFFF"})
"""Hex codes that a cleared or silent port shows whatever the table; they tell no table from another."""


class EventOrder(StrEnum):
    """How the text was ordered."""

    OLDEST_FIRST = "oldest-first"
    NEWEST_FIRST = "newest-first"


@dataclass(frozen=True, slots=True)
class CodeEvent:
    """One sign.

    `code`: as a code table writes it (hex in capitals with 2, 4 or 8 digits; "3" or "1-3-1" beeps; a lamp or a state; "00:01").
    `at`: seconds, from any origin that all events of the reading share, or None. `boot`: number of the start it belongs to
    when the source says so, 1 is the oldest. `kind`: progress or error when the source says so. `status`: 32-bit status
    value, eight digits.
    `count`: how often it came in a row. `line`: line of the text, from 1.
    """

    code: str
    at: float | None = None
    boot: int | None = None
    kind: str = ""
    status: str = ""
    count: int = 1
    line: int = 0


@dataclass(frozen=True, slots=True)
class CodeReading:
    """A text read: its events oldest first, all of one form; `source` names the format in words.

    `order_given`: whether the order was said or certain (by time stamps or by the format), not guessed. `notes`: what was
    guessed or left out, as sentences. `unread`: lines with nothing to read.
    """

    form: CodeForm
    source: str
    events: tuple[CodeEvent, ...] = ()
    order: EventOrder = EventOrder.OLDEST_FIRST
    order_given: bool = False
    notes: tuple[str, ...] = ()
    unread: int = 0


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
