"""Event logs of management controllers: binary records (IPMI 2.0, chapter 32; firmware progress of table 42-3), and the listings
that tools print of them, in short, long and verbose form.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading, EventOrder
from nopost.codes.readers.hex_codes import byte_rows, records
from nopost.codes.readers.source_text import SourceText
from nopost.codes.readers.timestamps import ClockKind, highest_clock, order_events, read_iso, read_stamp, since_epoch


def event_data(data: bytes, *, ended: bool) -> str:
    """The code "offset:extension" of three bytes of event data, or the word for why there is none."""
    offset = data[0] & 0x0F
    if offset > 2:
        return "reserved"
    if data[0] >> 6 != 0b11:
        return "bare"
    return "ended" if ended else f"{offset:02X}:{data[1]:02X}"


RECORD_SIZE = 16
LEAST_SHARE = 0.8
"""Share of the records that must look right."""
SINCE_INIT = 0x2000_0000
"""Time stamps up to here count from the start of the log, not from 1970."""
NO_TIME = 0xFFFF_FFFF

EVENT_KINDS = ("error", "error", "progress")
"""Kind of an event by its offset: error, hang, progress (table 42-3)."""
_NOTES = {
    "other": "Records about other sensors left out: {}.",
    "oem": "Records of a maker's own form left out: {}.",
    "bare": "Firmware records that carry no code: {}.",
    "reserved": "Firmware records with a reserved offset left out: {}.",
    "ended": "Firmware records that tell the end of an event left out: {}.",
    "odd": "Records of an unknown form left out: {}.",
    "untold": "Firmware records with a text that is not understood: {}.",
}


def is_record(data: bytes) -> bool:
    """Whether 16 bytes can be a record: a system event in a known revision, or a maker's own."""
    return len(data) == RECORD_SIZE and ((data[2] == 0x02 and data[9] in (3, 4)) or data[2] >= 0xC0)


def read_ipmi_records(source: SourceText) -> list[CodeReading]:
    """Records as raw bytes, or in hexadecimal, one a row or as a run; empty when most of it is no such record."""
    for rows in _byte_rows(source):
        found = records(rows, RECORD_SIZE) if rows else []
        system = any(len(data) == RECORD_SIZE and data[2] == 0x02 for _, data in found if is_record(data))
        if system and sum(is_record(data) for _, data in found) >= LEAST_SHARE * len(found):
            reading = _records_reading(found, source.order)
            return [reading] if reading else []
    return []


def _byte_rows(source: SourceText) -> Iterator[list[tuple[int, bytes]] | None]:
    """The bytes as they stand, then without what was taken for stamps and running numbers."""
    if source.raw is not None:
        yield [(0, source.raw[: len(source.raw) - len(source.raw) % RECORD_SIZE])]
        return
    numbered = ((n, s) for n, line in enumerate(source.text.splitlines(), 1) if (s := line.strip()))
    yield byte_rows(numbered)
    if any(line.clock or line.running is not None for line in source.lines):
        yield byte_rows((line.number, line.rest) for line in source.lines)


def _records_reading(found: Sequence[tuple[int, bytes]], asked: EventOrder | None) -> CodeReading | None:
    left: Counter[str] = Counter()
    events, ids, stamps = [], [], []
    for number, data in found:
        code = _code(data)
        if ":" not in code:
            left[code] += 1
            continue
        stamp = int.from_bytes(data[3:7], "little")
        events.append(
            CodeEvent(code, None if stamp == NO_TIME else float(stamp), kind=EVENT_KINDS[int(code[:2], 16)], line=number)
        )
        ids.append(int.from_bytes(data[0:2], "little"))
        stamps.append(stamp)
    early = [s <= SINCE_INIT for s in stamps if s != NO_TIME]
    if any(early) and not all(early):
        events = [e if e.at is None or e.at > SINCE_INIT else replace(e, at=None) for e in events]
    clock = ClockKind.DATED if early and not all(early) else ClockKind.SINCE_START if early else None
    return event_log_reading("IPMI event log, records", events, ids, clock, left, asked)


def _code(data: bytes) -> str:
    """The code of a record, or the word for why it has none."""
    if not is_record(data):
        return "odd"
    if data[2] != 0x02:
        return "oem"
    if data[10] != 0x0F or data[12] & 0x7F != 0x6F:
        return "other"
    return event_data(data[13:16], ended=bool(data[12] & 0x80))


def event_log_reading(
    source: str,
    events: Sequence[CodeEvent],
    ids: Sequence[int | None],
    clock: ClockKind | None,
    left_out: Counter[str],
    asked: EventOrder | None,
) -> CodeReading | None:
    """The reading of an event log, put in order of time; None when it has no firmware record at all.

    `ids`: record id of each event; `left_out`: how many records were left out, by a reason of `_NOTES`.
    """
    notes = [_NOTES[why].format(n) for why, n in sorted(left_out.items()) if n and why in _NOTES]
    form, odd = CodeForm.FIRMWARE_EVENTS, left_out["odd"]
    if not events:
        return CodeReading(form, source, notes=tuple(notes), unread=odd) if left_out.total() else None
    done = order_events(events, asked=asked, clock=clock, indexes=ids, certain=EventOrder.OLDEST_FIRST)
    return CodeReading(form, source, done.events, done.order, done.given, (*notes, *done.notes), odd)


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
