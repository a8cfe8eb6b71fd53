"""Read any text: find out its format and call its reader. Never raises on any input; the time is linear in its length."""

from __future__ import annotations

from nopost.codes.code_events import CodeReading, EventOrder
from nopost.codes.readers.beeps import may_beep, read_beeps
from nopost.codes.readers.hex_codes import read_hex_codes
from nopost.codes.readers.ipmi_event_log import read_dump, read_listing
from nopost.codes.readers.lamps import may_light, read_lamps
from nopost.codes.readers.redfish import may_state, read_redfish, read_state_words
from nopost.codes.readers.sbmr import read_sbmr
from nopost.codes.readers.timestamps import LogLine, read_lines

MAX_LENGTH = 8 * 1024 * 1024
"""Characters (or bytes) read at most; of a longer text its end, where the start-up stopped."""


def read_text(text: str | bytes, *, order: EventOrder | None = None) -> list[CodeReading]:
    """The readings of a text, one for each form of sign found in it, usually one; none when there is nothing to read.

    `order`: how the text is ordered, when that is known; formats that carry their own order (a Redfish log) keep it.
    """
    long = len(text) > MAX_LENGTH
    if isinstance(text, bytes):
        raw = text[-MAX_LENGTH:] if long else text
        if b"\0" in raw and (found := _binary(raw, order)):
            return [found]
        decoded = raw.decode(_encoding(raw), errors="replace")
    else:
        decoded = text[-MAX_LENGTH:] if long else text
    readings = _structured(decoded, order) or _free(decoded, order)
    return [_with_note(r, f"Only the last {MAX_LENGTH // 1024 // 1024} MB were read.") for r in readings] if long else readings


def _encoding(raw: bytes) -> str:
    """UTF-16 when a byte-order mark says so, else UTF-8."""
    return "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"


def _with_note(reading: CodeReading, note: str) -> CodeReading:
    return CodeReading(
        reading.form, reading.source, reading.events, reading.order, reading.order_given, (note, *reading.notes), reading.unread
    )


def _binary(raw: bytes, order: EventOrder | None) -> CodeReading | None:
    """Records as raw bytes."""
    return read_dump(raw, "", (), order) or read_sbmr(raw, (), order)


def _structured(text: str, order: EventOrder | None) -> list[CodeReading]:
    """Formats that are certain when they fit; each gives up early when it does not."""
    if found := read_redfish(text, order):
        return found
    listing = read_listing(text, order)
    return [listing] if listing else []


def _free(text: str, order: EventOrder | None) -> list[CodeReading]:
    """Records in hexadecimal, then words of people and consoles."""
    lines, notes = read_lines(text)
    if records := read_dump(None, text, lines, order) or read_sbmr(None, lines, order):
        return [records]
    if may_state(text) and (states := read_state_words(lines, order)):
        return [states]
    low = text.lower()
    beeps, about_beeps = read_beeps(lines, order) if may_beep(low, len(lines)) else (None, frozenset[int]())
    lamps, about_lamps = read_lamps(lines, order) if may_light(low, len(lines)) else (None, frozenset[int]())
    used = about_beeps | about_lamps
    rest: list[LogLine] = [line for line in lines if line.number not in used] if used else lines
    return [r for r in (read_hex_codes(rest, notes, order), beeps, lamps) if r]
