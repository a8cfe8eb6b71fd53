"""What there is to draw of a start-up: boots, in each the codes with their phases, lengths, errors, and where it stopped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from nopost.codes.alike import Between, Loop, arranged, loop_of
from nopost.codes.boots import Boot
from nopost.codes.condense import Piece, condensed, weighed
from nopost.codes.decode import Decoded
from nopost.codes.event import Form
from nopost.codes.marks import marks_of
from nopost.codes.phase_words import counted, duration, stage_name
from nopost.codes.tables import Table, TableSet
from nopost.codes.trace import Trace
from nopost.codes.verdict import Outcome

MOST = 56
"""Pieces of one boot at most."""
CHARACTERS = 230
"""Characters of labels that a row has room for."""
WRAPPED = 12
"""Longer labels are broken into lines."""


class Ending(StrEnum):
    """How a boot, or the record, ends."""

    STOPPED = "stopped"
    RESTARTED = "restarted"
    HANDED_OVER = "handed-over"
    BUSY = "busy"
    SILENT = "silent"
    RECORD_ENDS = "record-ends"


@dataclass(frozen=True, slots=True)
class Segment:
    """A piece at its place. `start` and `width`: shares of the drawing's width. `cut`: it stood longer than its width
    says."""

    piece: Piece
    start: float
    width: float
    cut: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One boot drawn. `number`: from 1, the oldest; `title`: what is said of it; `words`: how it ended; `stop`: at which
    code."""

    number: int
    title: str
    segments: tuple[Segment, ...]
    ending: Ending
    words: str


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
    scale = _scale(list(drawn.values()))
    most = max((len(pieces) for pieces in drawn.values()), default=1)
    rows: list[Row | Between] = []
    for entry in plan:
        if isinstance(entry, Between):
            rows.append(entry)
        else:
            segments = scale.placed(drawn[entry]) if scale else _by_position(drawn[entry], most)
            rows.append(_row(trace, entry, segments))
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
    pieces = [replace(piece, matters=weight) for piece, weight in zip(pieces, weighed(pieces), strict=True)]
    wide = sum(min(len(piece.label), WRAPPED) + 1 for piece in pieces) / len(pieces)
    return condensed(pieces, [piece.matters for piece in pieces], max(7, min(MOST, int(CHARACTERS / wide))))


@dataclass(frozen=True, slots=True)
class _Scale:
    """Seconds to width: the longest way from first to last code, and the whole width with what came after the last code."""

    longest: float
    whole: float

    def tail(self, seconds: float | None) -> float:
        """Seconds drawn for a last code: as it stood, when that leaves room for the rest."""
        if seconds is None:
            return self.longest * 0.05
        return seconds if seconds <= self.longest * 0.5 else self.longest * 0.25

    def placed(self, pieces: Sequence[Piece]) -> tuple[Segment, ...]:
        """The segments of a boot."""
        found, at = [], 0.0
        for i, piece in enumerate(pieces):
            final = i == len(pieces) - 1
            length = self.tail(piece.seconds) if final else piece.seconds or 0.0
            cut = final and piece.seconds is not None and piece.seconds > length
            found.append(Segment(piece, at / self.whole, length / self.whole, cut))
            at += length
        return tuple(found)


def _scale(boots: Sequence[Sequence[Piece]]) -> _Scale | None:
    """None when times are not known throughout, or all equal."""
    if any(piece.seconds is None for pieces in boots for piece in pieces[:-1]):
        return None
    ways = [sum(piece.seconds or 0.0 for piece in pieces[:-1]) for pieces in boots]
    longest = max(ways, default=0.0)
    if not 1e-9 < longest < 1e12:
        return None
    scale = _Scale(longest, 0.0)
    whole = max(way + scale.tail(pieces[-1].seconds) for way, pieces in zip(ways, boots, strict=True))
    return _Scale(longest, whole)


def _by_position(pieces: Sequence[Piece], most: int) -> tuple[Segment, ...]:
    """Equal widths, the same for all boots; few codes do not fill the row."""
    width = 1 / max(most, 7)
    return tuple(Segment(piece, i * width, width) for i, piece in enumerate(pieces))


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


def _row(trace: Trace, index: int, segments: tuple[Segment, ...]) -> Row:
    boot = trace.boots[index]
    ending = _ending(trace, index)
    words = {
        Ending.STOPPED: f"stopped at {boot.last}",
        Ending.RESTARTED: "restarted",
        Ending.HANDED_OVER: "handed over",
        Ending.BUSY: f"still at {boot.last}",
        Ending.SILENT: "nothing began",
        Ending.RECORD_ENDS: "the record ends",
    }[ending]
    name = f"Boot {index + 1:,}: " if len(trace.boots) > 1 else ""
    return Row(index + 1, f"{name}{_size(boot)}", segments, ending, words)


def _size(boot: Boot) -> str:
    """How many codes, in what time, how many errors."""
    parts = counted(sum(event.count for event in boot.events), "code")
    times = [dwell for dwell in boot.dwell[:-1] if dwell is not None]
    if times and len(times) == len(boot.dwell) - 1 and sum(times):
        parts += f" in {duration(sum(times))}"
    return parts + (f", {counted(len(boot.errors), 'error code')}" if boot.errors else "")


def _told(decoded: Decoded, table: Table | None) -> tuple[str, str]:
    """The outcome in a few words, and on what it rests."""
    trace = decoded.trace
    at = f": {stage_name(trace.stage)}" if trace.stage not in ("", "handed-over", "no-code") else ""
    headline = {
        Outcome.NEVER_STARTED: "The start-up never began",
        Outcome.STALLED: f"Stopped at {trace.last}{at}",
        Outcome.STALLED_AFTER_RECOVERY: f"Stopped at {trace.last} after a recovery of the firmware{at}",
        Outcome.RESTART_LOOP: f"Restarts over and over{at}",
        Outcome.HANDED_OVER: "The firmware has done its work and handed over",
        Outcome.MEMORY_TRAINING: f"Memory is still being started, at {trace.last}",
        Outcome.RESUMED: "Woke from sleep and handed over",
        Outcome.UNCLEAR: "What happened is not clear",
    }[trace.outcome]
    sure = min(99, max(1, round(trace.confidence * 100)))
    size = f"{counted(sum(event.count for event in decoded.reading.events), 'code')} in {counted(len(trace.boots), 'boot')}"
    return headline, f"{size}, read as: {table.table.title if table else 'no known map'}. Confidence {sure} %."
