"""IPMI system event log as the text that management tools print: a row for each record, its columns parted by bars.

The words of a row are matched by their stems, all of a row's at once, since listings differ in how they put them. Offsets
and extensions are those of IPMI v2.0 rev 1.1, table 42-3, sensor type 0Fh.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from nopost.codes.code_events import CodeEvent, CodeReading
from nopost.codes.readers.ipmi_event_log import EVENT_KINDS, event_data, event_log_reading
from nopost.codes.readers.source_text import SourceText
from nopost.codes.readers.timestamps import ClockKind, highest_clock, read_iso, read_stamp, since_epoch

_ERRORS: tuple[tuple[str, str], ...] = (
    ("01", "no memory|no system memory|memory not installed"),
    ("02", "usable memory|memory usable|no usable"),
    ("06", "hard disk controller|hard-disk controller"),
    ("03", "hard disk|hard-disk|ata device|atapi"),
    ("04", "system board|system-board|motherboard fail|mainboard"),
    ("05", "diskette|floppy"),
    ("07", "keyboard"),
    ("08", "removable"),
    ("0A", "no video"),
    ("09", "video"),
    ("0B", "firmware corrupt|rom corrupt|bios corrupt|corruption"),
    ("0C", "voltage"),
    ("0D", "speed"),
    ("00", "unspecified"),
)
_PROGRESS: tuple[tuple[str, str], ...] = (
    ("12", "wake-up|wake up|wakeup|wake vector"),
    ("0C", "keyboard controller"),
    ("17", "keyboard"),
    ("18", "pointing|mouse"),
    ("0D", "embedded controller|management controller"),
    ("10", "ejection|eject"),
    ("11", "disabling docking"),
    ("0F", "enabling docking"),
    ("0E", "dock"),
    ("03", "secondary|further processor"),
    ("19", "primary"),
    ("04", "authentication"),
    ("05", "setup|set-up"),
    ("06", "usb"),
    ("07", "pci"),
    ("08", "option rom"),
    ("09", "video"),
    ("0A", "cache"),
    ("0B", "sm bus|smbus"),
    ("02", "hard disk|hard-disk"),
    ("13", "operating system|os boot"),
    ("14", "baseboard|motherboard|base board"),
    ("16", "floppy|diskette"),
    ("01", "memory init|memory"),
    ("00", "unspecified"),
)
_BAD = ("fail", "no ", "not ", "corrupt", "mismatch", "usable", "unrecover")
"""Stems that tell an error where the row does not name the offset."""
_DATA = re.compile(
    r"(?<![0-9a-z])(?:0x)?([0-9a-f]{6})(?![0-9a-z])|(?<![0-9a-z])([0-9a-f]{2}) ([0-9a-f]{2}) ([0-9a-f]{2})(?![0-9a-z])"
)
_DATE = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{2,4})")


def read_ipmi_listing(source: SourceText) -> list[CodeReading]:
    """Rows of number, date, time, sensor, event, asserted or not, parted by bars; other lines are counted as unread."""
    left: Counter[str] = Counter()
    events: list[CodeEvent] = []
    ids: list[int | None] = []
    kinds: list[ClockKind | None] = []
    for number, line in enumerate(source.text.splitlines(), 1):
        cells = [c.strip() for c in line[:1000].split("|")] if "|" in line else []
        if len(cells) < 4:
            left["unread"] += bool(line.strip())
            continue
        code = _listed(cells)
        if ":" not in code:
            left[code] += 1
            continue
        at, clock = _moment(cells[:4])
        kinds.append(clock)
        events.append(CodeEvent(code, at, kind=EVENT_KINDS[int(code[:2], 16)], line=number))
        ids.append(int(cells[0], 16) if re.fullmatch(r"[0-9A-Fa-f]{1,4}", cells[0]) else None)
    if not events and left["bare"] + left["untold"] + left["ended"] == 0:
        return []
    clock = ClockKind.DATED if ClockKind.DATED in kinds else highest_clock(kinds)
    events = [e if kind is clock else replace(e, at=None) for e, kind in zip(events, kinds, strict=True)]
    reading = event_log_reading("IPMI event log, listing", events, ids, clock, left, source.order)
    return [replace(reading, unread=left["unread"] + left["untold"])] if reading else []


def _listed(cells: Sequence[str]) -> str:
    low = [c.lower() for c in cells]
    if not any("system firmware" in c for c in low):
        return "other"
    if any(c.startswith(("deassert", "de-assert")) or "deassertion" in c for c in low):
        return "ended"
    return event_code(" | ".join(c for c in low[1:] if not c.startswith("assert")))


def _moment(cells: Sequence[str]) -> tuple[float | None, ClockKind | None]:
    """(seconds, kind of clock) from the cells of date and time."""
    whole = " ".join(cells[1:3])
    if (iso := read_iso(whole)) is not None or (iso := read_iso(cells[1])) is not None:
        return iso, ClockKind.DATED
    found = _DATE.search(whole)
    stamp = next((s for cell in cells[1:4] for part in cell.split() if (s := read_stamp(part + " "))), None)
    if not found:
        return (stamp[0], stamp[1]) if stamp else (None, None)
    month, day, year = int(found[1]), int(found[2]), int(found[3])
    if month > 12:
        month, day = day, month
    at = since_epoch(
        year + 2000 if year < 100 else year, month, day, stamp[0] if stamp and stamp[1] is ClockKind.TIME_OF_DAY else 0.0
    )
    return at, ClockKind.DATED if at is not None else None


def event_code(words: str) -> str:
    """The code of a listing's row in small letters: from its event data when they are there, else from its words."""
    for found in _DATA.finditer(words):
        data = bytes.fromhex(found[1] or "".join(found.groups()[1:]))
        if data[0] >> 6 == 0b11 and data[0] & 0x0F <= 2:
            return event_data(data, ended=False)
    offset = _offset(words)
    code = _match(_ERRORS if offset == "00" else _PROGRESS, words)
    return f"{offset}:{code}" if code else "untold"


def _offset(words: str) -> str:
    """Offset that the row names, or that its words make likely."""
    if "hang" in words:
        return "01"
    if "firmware error" in words or "post error" in words:
        return "00"
    named = "firmware progress" in words
    return "00" if not named and any(stem in words for stem in _BAD) else "02"


def _match(rows: tuple[tuple[str, str], ...], words: str) -> str:
    return next((code for code, stems in rows if any(stem in words for stem in stems.split("|"))), "")
