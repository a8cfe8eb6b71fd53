"""A timeline of a start-up as SVG that needs nothing from outside, told by pattern and letters, so that it prints in black
and white.

Each boot is a row: its title, the axis, the band of phases, how it ended, and under the band the codes, whose labels
never lie over each other and have lines that lead to where they belong. Least important labels are left out when there is
no room.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence

from nopost.codes.code_events import PHASES, phase_of
from nopost.codes.timeline import BootEnding, BootRow, OmittedBoots, RestartLoop, Timeline
from nopost.codes.timeline_layout import TimelineSegment
from nopost.codes.wording import duration
from nopost.render.code_labels import drawn_labels, labels_of
from nopost.render.documents import html_document
from nopost.render.svg import (
    INK,
    MONO,
    PAPER,
    SOFT,
    Attribute,
    circle,
    document,
    fill_of,
    path,
    pattern,
    placed,
    polyline,
    rectangle,
    text_at,
    text_width,
)

_PATTERNS = {
    "sec": ("#f4efe2", circle(4, 4, 1.1, fill=INK)),
    "pei": ("#e4ecf5", path("M-2 2L2-2M0 8L8 0M6 10L10 6", stroke=INK, stroke_width=0.9)),
    "memory": ("#dce9dc", path("M2 0V8M6 0V8", stroke=INK, stroke_width=0.9)),
    "late-pei": ("#efe3f0", path("M-2 6L2 10M0 0L8 8M6-2L10 2", stroke=INK, stroke_width=0.9)),
    "dxe": ("#fbeadb", path("M0 2H8M0 6H8", stroke=INK, stroke_width=0.8)),
    "bds": ("#e3f1f1", path("M0 0H8M0 0V8", stroke=INK, stroke_width=1.1)),
    "hand-over": ("#d5d5d5", ""),
    "runtime": (PAPER, ""),
    "recovery": ("#f6dede", path("M0 5L2 2 4 5 6 2 8 5", fill="none", stroke=INK, stroke_width=1.1)),
    "resume": ("#f2f0d8", circle(4, 4, 2.4, fill="none", stroke=INK, stroke_width=0.9)),
    "any": (PAPER, path("M2 4H6", stroke=INK, stroke_width=1)),
    "several": (PAPER, path("M0 0H4V4H0ZM4 4H8V8H4Z", fill="#999")),
    "": (PAPER, path("M2 2L6 6M6 2L2 6", stroke="#777", stroke_width=0.9)),
}
"""Phase -> (tint, lines) of its fill, which prints in black and white; the empty name: a phase that is not known."""

_ENDING_SIGNS = {
    BootEnding.STOPPED: path("M-4.6-11H4.6L11-4.6V4.6L4.6 11H-4.6L-11 4.6V-4.6Z", fill=INK)
    + rectangle(-6.5, -2.2, 13, 4.4, fill=PAPER),
    BootEnding.RESTARTED: path("M-7 0A7 7 0 1 0 0-7", fill="none", stroke=INK, stroke_width=2.2)
    + path("M1-11.5V-2.5L-5.5-7Z", fill=INK),
    BootEnding.HANDED_OVER: path("M-10-3.2H1V-8.5L11 0 1 8.5V3.2H-10Z", fill=PAPER, stroke=INK, stroke_width=1.6),
    BootEnding.BUSY: circle(0, 0, 10, fill=PAPER, stroke=INK, stroke_width=1.6)
    + path("M-5 0h.01M0 0h.01M5 0h.01", stroke=INK, stroke_width=3, stroke_linecap="round"),
    BootEnding.SILENT: circle(0, 0, 9.5, fill=PAPER, stroke=INK, stroke_width=2)
    + path("M-6.5 6.5L6.5-6.5", stroke=INK, stroke_width=2),
    BootEnding.RECORD_ENDS: path("M-3-10V10M3-10V10", stroke=INK, stroke_width=1.4, stroke_dasharray="3 2"),
}
"""How a boot ended, drawn around (0, 0), 22 wide and high."""


def _pattern_name(phase: str) -> str:
    """The name of a phase's pattern in the document."""
    return f"phase-{phase if phase in _PATTERNS and phase else 'unknown'}"


def _pattern_fill(phase: str) -> str:
    """The `fill` attribute's value for a phase."""
    return fill_of(_pattern_name(phase))


def _patterns(phases: Iterable[str]) -> Iterator[str]:
    """The fills of these phases, each once."""
    for phase in dict.fromkeys(phase if phase in _PATTERNS else "" for phase in phases):
        tint, lines = _PATTERNS[phase]
        yield pattern(_pattern_name(phase), 8, rectangle(0, 0, 8, 8, fill=tint), lines)


def _ending_sign(ending: BootEnding, x: float, y: float, scale: float = 1.0) -> str:
    """The sign of an ending around a point."""
    return placed(x, y, _ENDING_SIGNS[ending], scale=scale)


BAND, PLATE_SIZE = 30.0, 12.0
BOLD_SHARE = 0.68
"""Width of a bold letter, as a share of its size."""
SIGN_ROOM = 34.0
ENDING_ROOM = 420.0
"""Room for the words at the end of a boot."""


def row_drawing(row: BootRow, timeline: Timeline, left: float, right: float, y: float) -> tuple[str, float]:
    """The SVG of a boot between two sides, from `y` down, and its height."""
    room = right - left - SIGN_ROOM
    parts = [text_at(left, y + 12, row.title, 13, font_weight="bold")]
    top = y + 22 + (16 if timeline.seconds else 0)
    if timeline.seconds:
        parts.append(_axis(timeline, left, room, top))
    spans = _spans(row.segments)
    parts += [_band_part(phase, left + a * room, (b - a) * room, top) for phase, a, b, _ in spans]
    parts += [_edges(row.segments, left, room, top)]
    end = left + room * (row.segments[-1].start + row.segments[-1].width)
    parts += [_ending(row, end, right, y, top)]
    labels = labels_of(row, left, room, {first: phase for phase, a, b, first in spans if not _plate(phase, (b - a) * room)})
    under, height = drawn_labels(labels, left, right, top + BAND)
    return "\n".join([*parts, under]), top + BAND + height - y


def _spans(segments: Sequence[TimelineSegment]) -> list[tuple[str, float, float, int]]:
    """Neighbours of one phase as one: phase, from, to, index of the first."""
    found = []
    for phase, group in itertools.groupby(enumerate(segments), key=lambda pair: pair[1].piece.phase):
        inside = list(group)
        (first, begin), (_, end) = inside[0], inside[-1]
        found.append((phase, begin.start, end.start + end.width, first))
    return found


def _band_part(phase: str, x: float, width: float, top: float) -> str:
    """A phase with its pattern, and its name or letter on a plate where there is room."""
    part = rectangle(x, top, max(width, 0.6), BAND, fill=_pattern_fill(phase), stroke=INK, stroke_width=1)
    words = _plate(phase, width)
    if not words:
        return part
    plate = text_width(words, PLATE_SIZE, BOLD_SHARE) + 4
    middle = x + width / 2
    part += rectangle(middle - plate / 2, top + BAND / 2 - 8.5, plate, 17, fill=PAPER, rx=2)
    return part + text_at(middle, top + BAND / 2 + 4.3, words, PLATE_SIZE, font_weight="bold", text_anchor="middle")


def _plate(phase: str, width: float) -> str:
    """The name of a phase, its letter, or nothing, as there is room."""
    known = phase_of(phase)
    choice = (f"{known.letter} {known.short_name}", known.letter)
    return next((words for words in choice if text_width(words, PLATE_SIZE, BOLD_SHARE) + 8 <= width), "")


def _edges(segments: Sequence[TimelineSegment], left: float, room: float, top: float) -> str:
    """Where one code gives way to the next: notches at the lower edge of the band; a break where it stood longer than drawn."""
    parts = [polyline([(left + s.start * room, top + BAND - 4), (left + s.start * room, top + BAND)]) for s in segments[1:]]
    for segment in segments:
        if segment.cut:
            x = left + (segment.start + segment.width * 0.82) * room
            for shift, colour in ((0.0, PAPER), (-3.5, INK), (3.5, INK)):
                zig = [(x + shift + (3 if k % 2 else -3), top - 3 + k * (BAND + 6) / 4) for k in range(5)]
                parts.append(polyline(zig, stroke=colour, stroke_width=6 if colour == PAPER else 1.2))
    return "".join(parts)


def _axis(timeline: Timeline, left: float, room: float, top: float) -> str:
    """Ticks and seconds over the band."""
    step = 10 ** math.floor(math.log10(timeline.axis))
    step = next(step * k for k in (0.1, 0.2, 0.5, 1, 2, 5) if timeline.axis / (step * k) <= 8)
    parts = []
    for k in range(int(timeline.axis / step + 1e-9) + 1):
        x = left + k * step / timeline.seconds * room
        parts.append(polyline([(x, top - 4), (x, top)], stroke_width=0.8))
        anchor = "start" if k == 0 else "middle"
        parts.append(text_at(x, top - 6, duration(k * step), 10, fill=SOFT, text_anchor=anchor))
    return "".join(parts)


def _ending(row: BootRow, end: float, right: float, y: float, top: float) -> str:
    """The sign at the end of the band, and words beside it or, without room, over it."""
    middle = top + BAND / 2
    part = _ending_sign(row.ending, end + 18, middle)
    size = 14.5 if row.ending is BootEnding.STOPPED else 12.5
    size = min(size, size * ENDING_ROOM / text_width(row.words, size, BOLD_SHARE))
    wide = text_width(row.words, size, BOLD_SHARE)
    weight = "bold" if row.ending is not BootEnding.RESTARTED else "normal"
    if end + SIGN_ROOM + wide <= right:
        return part + text_at(end + SIGN_ROOM + 2, middle + 5, row.words, size, font_weight=weight)
    return part + text_at(right, y + 12, row.words, size, font_weight=weight, text_anchor="end")


WIDTH = 900
MARGIN = 24
BRACKET = 70
"""Room for the bracket of a loop, at the left."""
LEGEND_COLUMNS = 2
_BOLD: dict[str, Attribute] = {"font_weight": "bold", "text_anchor": "middle"}
ENDING_WORDS = {
    BootEnding.STOPPED: "the start-up stopped here",
    BootEnding.RESTARTED: "restart, next boot",
    BootEnding.HANDED_OVER: "handed over to the system",
    BootEnding.BUSY: "still at work when the record ends",
    BootEnding.SILENT: "nothing began",
    BootEnding.RECORD_ENDS: "the record ends",
}


def timeline_svg(timeline: Timeline) -> str:
    """The picture as one SVG text."""
    body = [
        text_at(MARGIN, 34, _fitted(timeline.headline, 19, BOLD_SHARE), 19, font_weight="bold"),
        text_at(MARGIN, 55, _fitted(timeline.detail, 12.5, 0.6), 12.5, fill=SOFT),
    ]
    y = 78.0
    left = MARGIN + (BRACKET if timeline.loop else 0)
    places: list[tuple[int, int, float, float]] = []
    for row in timeline.rows:
        part, height = (
            _omitted(row, left, y) if isinstance(row, OmittedBoots) else row_drawing(row, timeline, left, WIDTH - MARGIN, y)
        )
        body.append(part)
        first, last = (row.first, row.last) if isinstance(row, OmittedBoots) else (row.number, row.number)
        places.append((first, last, y, y + height))
        y += height + 12
    if timeline.loop:
        body.append(_bracket(timeline.loop, places))
        body.append(text_at(MARGIN, y + 10, _fitted(f"Loop: {timeline.loop.words}.", 13, BOLD_SHARE), 13, font_weight="bold"))
        y += 26
    legend, y = _legend(timeline, y + 4)
    height = round(y + 14)
    described = " ".join(_described(timeline))
    return document(
        WIDTH,
        height,
        timeline.headline,
        [*body, legend],
        description=described,
        definitions=_patterns(timeline.phases()),
        font_family="system-ui, sans-serif",
        fill=INK,
    )


def _fitted(text: str, size: float, share: float) -> str:
    """Text cut to the width of the picture."""
    most = int((WIDTH - 2 * MARGIN) / (size * share))
    if text_width(text, size, share) <= WIDTH - 2 * MARGIN:
        return text
    while text and text_width(text[:most] + "…", size, share) > WIDTH - 2 * MARGIN:
        most -= 1
    return text[:most] + "…"


def _described(timeline: Timeline) -> list[str]:
    """The rows in words, for those who do not see the picture."""
    told = [f"{row.words}." if isinstance(row, OmittedBoots) else f"{row.title}, {row.words}." for row in timeline.rows]
    return [timeline.detail, *told, *([f"Loop: {timeline.loop.words}."] if timeline.loop else [])]


def _omitted(row: OmittedBoots, left: float, y: float) -> tuple[str, float]:
    """Boots that are not drawn: dots down, and words."""
    dots = "".join(circle(left + 8, y + 3 + 8 * k, 1.8) for k in range(3))
    return dots + text_at(left + 24, y + 15, row.words, 13), 24.0


def _bracket(loop: RestartLoop, places: Sequence[tuple[int, int, float, float]]) -> str:
    """Around the boots of a loop, with how often it went round."""
    inside = [(top, bottom) for _, last, top, bottom in places if last >= loop.first]
    top, bottom = inside[0][0], inside[-1][1]
    right, spine, middle = MARGIN + BRACKET - 14, MARGIN + BRACKET - 26, (top + bottom) / 2
    number, _, noun = loop.short.rpartition(" ")
    words = [(number, 22.0), (noun, 12.5)] if number else [(noun, 11.0)]
    x = MARGIN + (BRACKET - 26) / 2 - 4
    told = [
        text_at(x, middle + k * 17, word, min(size, 40 / max(1, len(word) * 0.6)), **_BOLD)
        for k, (word, size) in enumerate(words)
    ]
    return polyline([(right, top), (spine, top), (spine, bottom), (right, bottom)], stroke_width=2.5) + "".join(told)


def _legend(timeline: Timeline, y: float) -> tuple[str, float]:
    """What patterns, letters and signs mean; where it ends."""
    drawn = timeline.phases()
    rows = [row for row in timeline.rows if isinstance(row, BootRow)]
    pieces = [segment.piece for row in rows for segment in row.segments]
    entries = [(phase.full_name, _swatch(phase.id)) for phase in PHASES.values() if phase.id in drawn]
    for ending in ENDING_WORDS:
        if any(row.ending is ending for row in rows):
            entries.append((ENDING_WORDS[ending], _ending_sign(ending, 17, 0, 0.72)))
    if any(piece.error for piece in pieces):
        frame = rectangle(9, -7, 16, 14, fill=PAPER, stroke=INK, stroke_width=1.3)
        entries.append(("an error code", frame + text_at(17, 4.3, "!", 12, **_BOLD)))
    if any(not piece.code for piece in pieces):
        entries.append(("so many codes that are not drawn one by one", text_at(17, 4, "+…", 12, font_family=MONO, **_BOLD)))
    if any(segment.cut for row in rows for segment in row.segments):
        edges = "".join(polyline([(x + 3, -9), (x - 3, -3), (x + 3, 3), (x - 3, 9)], stroke_width=1.2) for x in (14, 20))
        entries.append(("a long wait, drawn short", edges))
    parts = [polyline([(MARGIN, y), (WIDTH - MARGIN, y)], stroke_width=0.8)]
    lines = max(1, (len(entries) + LEGEND_COLUMNS - 1) // LEGEND_COLUMNS)
    for i, (words, mark) in enumerate(entries):
        x = MARGIN + i // lines * (WIDTH - 2 * MARGIN) / LEGEND_COLUMNS
        middle = y + 20 + i % lines * 24
        parts.append(placed(x, middle, mark) + text_at(x + 44, middle + 4.5, words, 12.5))
    return "\n".join(parts), y + 20 + lines * 24 - 8


def _swatch(phase: str) -> str:
    """A bit of a phase's pattern with its letter."""
    fill = rectangle(0, -9, 34, 18, fill=_pattern_fill(phase), stroke=INK, stroke_width=0.8)
    return fill + rectangle(10.5, -7, 13, 14, fill=PAPER, rx=2) + text_at(17, 4.3, phase_of(phase).letter, 12, **_BOLD)


def timeline_html(timeline: Timeline, title: str, sections: Sequence[tuple[str, Sequence[str]]]) -> str:
    """A page with the picture and lists under it."""
    return html_document("timeline.html", title=title, picture=timeline_svg(timeline), sections=sections)
