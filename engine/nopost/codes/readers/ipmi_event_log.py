"""IPMI system event log: 16-byte records, raw or as a dump in hexadecimal.

IPMI v2.0 rev 1.1, tables 32-1 (record), 29-6 (event data), 42-3 (sensor types). Only sensor type 0Fh (system firmware
progress) with event type 6Fh carries a firmware code, and only when bits 7:6 of event data 1 are 11b; then event data 2
is the code. `ipmi_listing` reads the same log as the text that management tools print.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading, EventOrder
from nopost.codes.readers.hex_codes import byte_rows, records
from nopost.codes.readers.source_text import SourceText
from nopost.codes.readers.timestamps import ClockKind, order_events


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
