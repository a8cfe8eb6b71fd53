"""Read any text: find out what kind it is and call its reader. Never raises on any input; the time is linear in its length.

`FORMATS` says of each format that is certain when it fits what it is recognised by and which reader reads it, in the order
in which they are tried. What is none of them is free text, which may hold beeps, lamps and digits side by side. A new
format is a module with one entry function, `read_...(source: SourceText) -> list[CodeReading]`, and one row here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from nopost.codes.code_events import CodeReading, EventOrder
from nopost.codes.readers.beeps import SOUND_STEMS, read_beeps
from nopost.codes.readers.boot_progress import LONG_STATES, read_boot_progress, read_sbmr
from nopost.codes.readers.hex_codes import read_hex_codes
from nopost.codes.readers.ipmi_event_log import read_ipmi_listing, read_ipmi_records
from nopost.codes.readers.lamps import LAMP_STEMS, read_lamps
from nopost.codes.readers.redfish import read_redfish
from nopost.codes.readers.source_text import SourceText
from nopost.codes.readers.tokens import FEW_LINES

MAX_LENGTH = 8 * 1024 * 1024
"""Characters (or bytes) read at most; of a longer text its end, where the start-up stopped."""


@dataclass(frozen=True, slots=True)
class LogFormat:
    """A format that is certain when it fits.

    `may_be`: a quick look whether a text can have this format at all. `read`: its reader, which gives nothing when it has not.
    """

    may_be: Callable[[SourceText], bool]
    read: Callable[[SourceText], list[CodeReading]]


def _may_be_redfish(source: SourceText) -> bool:
    return any(mark in source.text for mark in ("MessageArgs", "LastState", "BootProgress", "@odata"))


def _may_be_ipmi_listing(source: SourceText) -> bool:
    return "|" in source.text and "firmware" in source.lower


def _may_be_records(source: SourceText) -> bool:
    """Bytes, or rows of digits, which only reading them tells from lists of codes."""
    return True


def _may_be_boot_progress(source: SourceText) -> bool:
    return "LastState" in source.text or any(state in source.text for state in LONG_STATES)


FORMATS = (
    LogFormat(_may_be_redfish, read_redfish),
    LogFormat(_may_be_ipmi_listing, read_ipmi_listing),
    LogFormat(_may_be_records, read_ipmi_records),
    LogFormat(_may_be_records, read_sbmr),
    LogFormat(_may_be_boot_progress, read_boot_progress),
)


def read_text(text: str | bytes, *, order: EventOrder | None = None) -> list[CodeReading]:
    """The readings of a text, one for each form of sign found in it, usually one; none when there is nothing to read.

    `order`: how the text is ordered, when that is known; formats that carry their own order (a Redfish log) keep it.
    """
    for source in _sources(text[-MAX_LENGTH:], order):
        readings = _certain(source) or ([] if source.raw is not None else _free(source))
        if readings and len(text) > MAX_LENGTH:
            return [_with_note(r, f"Only the last {MAX_LENGTH // 1024 // 1024} MB were read.") for r in readings]
        if readings:
            return readings
    return []


def _sources(text: str | bytes, order: EventOrder | None) -> Iterator[SourceText]:
    """What to read, in turn: bytes that no text has are first read as records."""
    if isinstance(text, str):
        yield SourceText(text, order=order)
        return
    if b"\0" in text:
        yield SourceText(raw=text, order=order)
    yield SourceText(text.decode(_encoding(text), errors="replace"), order=order)


def _encoding(raw: bytes) -> str:
    """UTF-16 when a byte-order mark says so, else UTF-8."""
    return "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"


def _with_note(reading: CodeReading, note: str) -> CodeReading:
    return replace(reading, notes=(note, *reading.notes))


def _certain(source: SourceText) -> list[CodeReading]:
    """The readings of the first format that fits."""
    return next((found for each in FORMATS if each.may_be(source) and (found := each.read(source))), [])


def _free(source: SourceText) -> list[CodeReading]:
    """Words of people and consoles: lines about beeps or lamps only are not read for digits."""
    lines, few = source.lines, len(source.lines) <= FEW_LINES
    beeps, about_beeps = read_beeps(lines, source.order) if few or _has(SOUND_STEMS, source) else (None, frozenset[int]())
    lamps, about_lamps = read_lamps(lines, source.order) if few or _has(LAMP_STEMS, source) else (None, frozenset[int]())
    used = about_beeps | about_lamps
    rest = [line for line in lines if line.number not in used] if used else lines
    return [r for r in (read_hex_codes(rest, source.notes, source.order), beeps, lamps) if r]


def _has(stems: tuple[str, ...], source: SourceText) -> bool:
    return any(stem in source.lower for stem in stems)
