"""What a reader makes of a text: events in order of time, what form of code they are, and what had to be guessed."""

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
