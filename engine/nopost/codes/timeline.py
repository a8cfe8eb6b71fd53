"""What there is to draw of a start-up: boots, in each the codes with their phases, lengths, errors, and where it stopped."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from nopost.codes.alike import Between, Loop, arranged, loop_of
from nopost.codes.boots import Boot
from nopost.codes.condense import Piece, condensed
from nopost.codes.decode import Decoded
from nopost.codes.event import Form
from nopost.codes.marks import marks_of
from nopost.codes.phase_words import counted, duration, short_code, stage_name
from nopost.codes.placing import Segment, by_position, scale_of
from nopost.codes.tables import Table, TableSet
from nopost.codes.trace import Trace
from nopost.codes.verdict import Outcome

MOST = 56
"""Pieces of one boot at most."""
CHARACTERS = 200
"""Characters of labels that a row has room for."""
WRAPPED = 12
"""Longer labels are broken into lines."""

NOUNS = {Form.HEX: "code", Form.BEEPS: "beep signal", Form.LAMPS: "lamp sign", Form.STATES: "state"}
NOUNS[Form.FIRMWARE_EVENTS] = "event"


class Ending(StrEnum):
    """How a boot, or the record, ends."""

    STOPPED = "stopped"
    RESTARTED = "restarted"
    HANDED_OVER = "handed-over"
    BUSY = "busy"
    SILENT = "silent"
    RECORD_ENDS = "record-ends"


@dataclass(frozen=True, slots=True)
class Row:
    """One boot drawn. `number`: from 1, the oldest; `title`: what is said of it; `words`: how it ended."""

    number: int
    title: str
    segments: tuple[Segment, ...]
    ending: Ending
    words: str

    @property
    def long_stay(self) -> float:
        """Codes that stood for so many seconds or more are worth saying: at most three that stood an eighth of the time."""
        stays = sorted((s.piece.seconds for s in self.segments if s.piece.seconds), reverse=True)
        return max(stays[min(2, len(stays) - 1)], sum(stays) / 8) if stays else 1.0


@dataclass(frozen=True, slots=True)
class Timeline:
    """All of it. `seconds`: how many the whole width stands for, `axis`: to which second the axis goes; both 0 when the codes
    are drawn by position."""

    form: Form
    headline: str
    detail: str
    rows: tuple[Row | Between, ...]
    loop: Loop | None
    seconds: float
    axis: float

    def phases(self) -> list[str]:
        """Every phase drawn, in order of appearance."""
        segments = [segment for row in self.rows if isinstance(row, Row) for segment in row.segments]
        return list(dict.fromkeys(segment.piece.phase for segment in segments))


def timeline_of(decoded: Decoded, tables: TableSet) -> Timeline:
    """What there is to draw of a result."""
    trace = decoded.trace
    table = tables.named(trace.table) if trace.table else None
    plan = arranged(trace.boots)
    drawn = {i: _pieces(trace, i, table, decoded.reading.form) for i in plan if isinstance(i, int)}
    scale = scale_of(list(drawn.values()))
    most = max((len(pieces) for pieces in drawn.values()), default=1)
    rows: list[Row | Between] = []
    for entry in plan:
        if isinstance(entry, Between):
            rows.append(entry)
        else:
            segments = scale.placed(drawn[entry]) if scale else by_position(drawn[entry], most)
            rows.append(_row(trace, decoded.reading.form, entry, segments))
    headline, detail = _told(decoded, table)
    seconds, axis = (scale.whole, scale.longest) if scale else (0.0, 0.0)
    return Timeline(decoded.reading.form, headline, detail, tuple(rows), loop_of(trace), seconds, axis)


def _pieces(trace: Trace, index: int, table: Table | None, form: Form) -> list[Piece]:
    """The codes of a boot, equal neighbours as one, condensed to what can be drawn."""
    boot = trace.boots[index]
    marks = marks_of(boot.events, table, form)
    pieces: list[Piece] = []
    for event, mark, phase, dwell in zip(boot.events, marks, boot.phases, boot.dwell, strict=True):
        error = mark.kind == "error" or event.kind == "error"
        last = pieces[-1] if pieces else None
        if last and (last.code, last.phase, last.error) == (event.code, phase, error):
            seconds = None if last.seconds is None or dwell is None else last.seconds + dwell
            pieces[-1] = replace(last, count=last.count + event.count, seconds=seconds)
        else:
            pieces.append(Piece(phase, event.code, event.count, dwell, error))
    if _ending(trace, index) in (Ending.STOPPED, Ending.BUSY):
        stop = max((i for i, piece in enumerate(pieces) if piece.code == boot.last), default=len(pieces) - 1)
        pieces[stop] = replace(pieces[stop], stop=True)
    wide = sum(min(len(piece.label), WRAPPED) + 1 for piece in pieces) / len(pieces)
    return condensed(pieces, max(7, min(MOST, int(CHARACTERS / wide))))


def _ending(trace: Trace, index: int) -> Ending:
    if index < len(trace.boots) - 1:
        return Ending.RESTARTED
    return {
        Outcome.STALLED: Ending.STOPPED,
        Outcome.STALLED_AFTER_RECOVERY: Ending.STOPPED,
        Outcome.HANDED_OVER: Ending.HANDED_OVER,
        Outcome.RESUMED: Ending.HANDED_OVER,
        Outcome.MEMORY_TRAINING: Ending.BUSY,
        Outcome.NEVER_STARTED: Ending.SILENT,
    }.get(trace.outcome, Ending.RECORD_ENDS)


def _row(trace: Trace, form: Form, index: int, segments: tuple[Segment, ...]) -> Row:
    boot = trace.boots[index]
    ending = _ending(trace, index)
    words = {
        Ending.STOPPED: f"stopped {_at(form, boot.last)}",
        Ending.RESTARTED: "restarted",
        Ending.HANDED_OVER: "handed over",
        Ending.BUSY: f"still {_at(form, boot.last)}",
        Ending.SILENT: "nothing began",
        Ending.RECORD_ENDS: "the record ends",
    }[ending]
    name = f"Boot {index + 1:,}: " if len(trace.boots) > 1 else ""
    return Row(index + 1, f"{name}{_size(boot, form)}", segments, ending, words)


def _size(boot: Boot, form: Form) -> str:
    """How many codes, in what time, how many errors."""
    parts = counted(sum(event.count for event in boot.events), NOUNS[form])
    times = [dwell for dwell in boot.dwell[:-1] if dwell is not None]
    if times and len(times) == len(boot.dwell) - 1 and sum(times):
        parts += f" in {duration(sum(times))}"
    return parts + (f", {counted(len(boot.errors), 'error')}" if boot.errors else "")


def _told(decoded: Decoded, table: Table | None) -> tuple[str, str]:
    """The outcome in a few words, and on what it rests."""
    trace, form = decoded.trace, decoded.reading.form
    at = _at(form, trace.last)
    stage = f": {stage_name(trace.stage)}" if trace.stage not in ("", "handed-over", "no-code") else ""
    headline = {
        Outcome.NEVER_STARTED: "The start-up never began",
        Outcome.STALLED: f"Stopped {at}{stage}",
        Outcome.STALLED_AFTER_RECOVERY: f"Stopped {at} after a recovery of the firmware{stage}",
        Outcome.RESTART_LOOP: f"Restarts over and over{stage}",
        Outcome.HANDED_OVER: "The firmware has done its work and handed over",
        Outcome.MEMORY_TRAINING: f"Memory is still being started, {at}",
        Outcome.RESUMED: "Woke from sleep and handed over",
        Outcome.UNCLEAR: "What happened is not clear",
    }[trace.outcome]
    sure = min(99, max(1, round(trace.confidence * 100)))
    size = counted(sum(event.count for event in decoded.reading.events), NOUNS[form])
    size += f" in {len(trace.boots):,} boots" if len(trace.boots) > 1 else ""
    return headline, f"Confidence {sure} %. {size}, read as: {table.table.title if table else 'no known map'}"


def _at(form: Form, code: str) -> str:
    """Where it stands, in words that fit the sign."""
    code = short_code(code)
    return {Form.BEEPS: f"with the beeps “{code}”", Form.LAMPS: f"with the lamps “{code}”"}.get(form, f"at {code}")
