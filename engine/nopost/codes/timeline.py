"""What a timeline of a start-up shows: its boots, in each the codes with phases, lengths and errors, how it ended, and the
loop.

Boots that are alike are drawn once, the first and the last, with words for those between.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from nopost.codes.boot_outcome import BootOutcome
from nopost.codes.boots import Boot, marks_of
from nopost.codes.code_events import BLANK_CODES, CodeForm
from nopost.codes.decode import Decoded
from nopost.codes.periodicity import within_one
from nopost.codes.tables import IndexedTable, TableSet
from nopost.codes.timeline_layout import TimelinePiece, TimelineSegment, by_position, condensed, time_scale_of
from nopost.codes.trace import Trace
from nopost.codes.wording import counted, drawn_signs, duration, outcome_headline, place_words, short_code

MOST_ROWS = 6
"""With more rows than this only the first boot, the last one and words for the rest are shown."""


@dataclass(frozen=True, slots=True)
class OmittedBoots:
    """Boots that are not drawn, from `first` to `last` (numbers from 1), and what is said of them."""

    first: int
    last: int
    words: str


def shown_codes(boot: Boot) -> tuple[str, ...]:
    """What a boot showed, equal neighbours and blanks left out."""
    codes = [event.code for event in boot.events if event.code not in BLANK_CODES]
    return tuple(code for i, code in enumerate(codes) if i == 0 or code != codes[i - 1])


def arranged_rows(boots: Sequence[Boot]) -> list[int | OmittedBoots]:
    """Rows of a drawing: indexes of the boots to draw, and what lies between."""
    codes = [shown_codes(boot) for boot in boots]
    rows: list[int | OmittedBoots] = []
    start = 0
    while start < len(boots) - 1:
        end = start + 1
        while end < len(boots) - 1 and within_one(codes[end], codes[start]):
            end += 1
        rows.append(start)
        if end - start > 1:
            rows.append(_omitted(codes, start + 1, end))
        start = end
    if boots:
        rows.append(len(boots) - 1)
    if len(rows) <= MOST_ROWS:
        return rows
    return [0, _omitted(codes, 1, len(boots) - 1), len(boots) - 1]


def _omitted(codes: Sequence[tuple[str, ...]], start: int, stop: int) -> OmittedBoots:
    """Words for the boots from index `start` to before `stop`."""
    first, last = codes[start - 1], codes[-1]
    like = [within_one(one, first) for one in codes[start:stop]]
    near = sum(alike and one != first for alike, one in zip(like, codes[start:stop], strict=True))
    if stop - start == 1:
        numbers, every = f"Boot {stop:,}: ", ""
    else:
        numbers, every = f"Boots {start + 1:,} to {stop:,}: ", f"all {stop - start:,} "
    if all(like):
        but = "" if not near else ", but for one code" if near == len(like) else f", {near:,} of them but for one code"
        return OmittedBoots(start + 1, stop, f"{numbers}{every}like boot {start:,}{but}")
    as_last = sum(not a and within_one(one, last) for a, one in zip(like, codes[start:stop], strict=True))
    told = [(sum(like), f"like boot {start:,}"), (as_last, f"like boot {len(codes):,}")]
    told.append((len(like) - sum(like) - as_last, "unlike the first and the last"))
    return OmittedBoots(start + 1, stop, numbers + ", ".join(f"{n:,} {words}" for n, words in told if n))


@dataclass(frozen=True, slots=True)
class RestartLoop:
    """A restart loop: boots from `first` to `last` (numbers from 1); `times`: whole rounds, 0 when rounds are not alike."""

    first: int
    last: int
    times: int
    short: str
    words: str


def loop_of(trace: Trace) -> RestartLoop | None:
    """The loop at the end of the record, when that is the outcome."""
    boots = trace.boots
    if trace.outcome is not BootOutcome.RESTART_LOOP or len(boots) < 2:
        return None
    if trace.period is None:
        return RestartLoop(
            1, len(boots), 0, counted(len(boots), "boot"), f"{counted(len(boots) - 1, 'restart')}, the rounds are not alike"
        )
    first = len(boots)
    covered = 0
    while first > 0 and covered + len(shown_codes(boots[first - 1])) <= trace.period.covered:
        first -= 1
        covered += len(shown_codes(boots[first]))
    rounds = [shown_codes(boot) for boot in boots[first:]]
    length = trace.period.length
    if trace.period.exact and (length > len(rounds[0]) or length == 1):
        times, begun = (covered // length, covered % length > 0) if length > 1 else (len(rounds), False)
    else:
        begun = len(rounds[-1]) < length - 1 or (trace.period.exact and len(rounds[-1]) < length)
        times = len(rounds) - begun
    near = "" if trace.period.exact else ", but for a code lost or doubled"
    more = ", and begun once more" if begun else ""
    words = f"{counted(times, 'time')} the same round, up to {short_code(rounds[0][-1])}{near}{more}"
    return RestartLoop(first + 1, len(boots), times, counted(times, "time"), words)


MOST_PIECES = 56
"""Pieces of one boot at most."""
CHARACTERS = 200
"""Characters of labels that a row has room for."""
WRAPPED = 12
"""Longer labels are broken into lines."""


class BootEnding(StrEnum):
    """How a boot, or the record, ends."""

    STOPPED = "stopped"
    RESTARTED = "restarted"
    HANDED_OVER = "handed-over"
    BUSY = "busy"
    SILENT = "silent"
    RECORD_ENDS = "record-ends"


@dataclass(frozen=True, slots=True)
class BootRow:
    """One boot drawn. `number`: from 1, the oldest; `title`: what is said of it; `words`: how it ended."""

    number: int
    title: str
    segments: tuple[TimelineSegment, ...]
    ending: BootEnding
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

    form: CodeForm
    headline: str
    detail: str
    rows: tuple[BootRow | OmittedBoots, ...]
    loop: RestartLoop | None
    seconds: float
    axis: float

    def phases(self) -> list[str]:
        """Every phase drawn, in order of appearance."""
        segments = [segment for row in self.rows if isinstance(row, BootRow) for segment in row.segments]
        return list(dict.fromkeys(segment.piece.phase for segment in segments))


def timeline_of(decoded: Decoded, tables: TableSet) -> Timeline:
    """What there is to draw of a result."""
    trace = decoded.trace
    table = tables.named(trace.table) if trace.table else None
    plan = arranged_rows(trace.boots)
    drawn = {i: _pieces(trace, i, table, decoded.reading.form) for i in plan if isinstance(i, int)}
    scale = time_scale_of(list(drawn.values()))
    most = max((len(pieces) for pieces in drawn.values()), default=1)
    rows: list[BootRow | OmittedBoots] = []
    for entry in plan:
        if isinstance(entry, OmittedBoots):
            rows.append(entry)
        else:
            segments = scale.placed(drawn[entry]) if scale else by_position(drawn[entry], most)
            rows.append(_row(trace, decoded.reading.form, entry, segments))
    headline, detail = _headline(decoded, table)
    seconds, axis = (scale.whole, scale.longest) if scale else (0.0, 0.0)
    return Timeline(decoded.reading.form, headline, detail, tuple(rows), loop_of(trace), seconds, axis)


def _pieces(trace: Trace, index: int, table: IndexedTable | None, form: CodeForm) -> list[TimelinePiece]:
    """The codes of a boot, equal neighbours as one, condensed to what can be drawn."""
    boot = trace.boots[index]
    marks = marks_of(boot.events, table, form)
    pieces: list[TimelinePiece] = []
    for event, mark, phase, dwell in zip(boot.events, marks, boot.phases, boot.dwell, strict=True):
        error = mark.kind == "error" or event.kind == "error"
        last = pieces[-1] if pieces else None
        if last and (last.code, last.phase, last.error) == (event.code, phase, error):
            seconds = None if last.seconds is None or dwell is None else last.seconds + dwell
            pieces[-1] = replace(last, count=last.count + event.count, seconds=seconds)
        else:
            pieces.append(TimelinePiece(phase, event.code, event.count, dwell, error))
    if _ending(trace, index) in (BootEnding.STOPPED, BootEnding.BUSY):
        stop = max((i for i, piece in enumerate(pieces) if piece.code == boot.last), default=len(pieces) - 1)
        pieces[stop] = replace(pieces[stop], stop=True)
    wide = sum(min(len(piece.label), WRAPPED) + 1 for piece in pieces) / len(pieces)
    return condensed(pieces, max(7, min(MOST_PIECES, int(CHARACTERS / wide))))


def _ending(trace: Trace, index: int) -> BootEnding:
    if index < len(trace.boots) - 1:
        return BootEnding.RESTARTED
    return {
        BootOutcome.STALLED: BootEnding.STOPPED,
        BootOutcome.STALLED_AFTER_RECOVERY: BootEnding.STOPPED,
        BootOutcome.HANDED_OVER: BootEnding.HANDED_OVER,
        BootOutcome.RESUMED: BootEnding.HANDED_OVER,
        BootOutcome.MEMORY_TRAINING: BootEnding.BUSY,
        BootOutcome.NEVER_STARTED: BootEnding.SILENT,
    }.get(trace.outcome, BootEnding.RECORD_ENDS)


def _row(trace: Trace, form: CodeForm, index: int, segments: tuple[TimelineSegment, ...]) -> BootRow:
    boot = trace.boots[index]
    ending = _ending(trace, index)
    words = {
        BootEnding.STOPPED: f"stopped {place_words(form, boot.last)}",
        BootEnding.RESTARTED: "restarted",
        BootEnding.HANDED_OVER: "handed over",
        BootEnding.BUSY: f"still {place_words(form, boot.last)}",
        BootEnding.SILENT: "nothing began",
        BootEnding.RECORD_ENDS: "the record ends",
    }[ending]
    name = f"Boot {index + 1:,}: " if len(trace.boots) > 1 else ""
    return BootRow(index + 1, f"{name}{_size(boot, form)}", segments, ending, words)


def _size(boot: Boot, form: CodeForm) -> str:
    """How many codes, in what time, how many errors."""
    parts = drawn_signs(sum(event.count for event in boot.events), form)
    times = [dwell for dwell in boot.dwell[:-1] if dwell is not None]
    if times and len(times) == len(boot.dwell) - 1 and sum(times):
        parts += f" in {duration(sum(times))}"
    return parts + (f", {counted(len(boot.errors), 'error')}" if boot.errors else "")


def _headline(decoded: Decoded, table: IndexedTable | None) -> tuple[str, str]:
    """The outcome in a few words, and on what it rests."""
    trace, form = decoded.trace, decoded.reading.form
    sure = min(99, max(1, round(trace.confidence * 100)))
    size = drawn_signs(sum(event.count for event in decoded.reading.events), form)
    size += f" in {len(trace.boots):,} boots" if len(trace.boots) > 1 else ""
    title = table.table.title if table else "no known map"
    return outcome_headline(trace, form), f"Confidence {sure} %. {size}, read as: {title}"
