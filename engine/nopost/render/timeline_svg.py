"""A timeline of a start-up as SVG that needs nothing from outside, told by pattern and letters, so that it prints in black
and white.

Each boot is a row: its title, the axis, the band of phases, how it ended, and under the band the codes, whose labels
never lie over each other and have lines that lead to where they belong. Least important labels are left out when there is
no room.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nopost.codes.phases import PHASES, phase_of
from nopost.codes.timeline import BootEnding, BootRow, OmittedBoots, RestartLoop, Timeline
from nopost.codes.timeline_layout import Importance, TimelineSegment
from nopost.codes.wording import duration
from nopost.render.page import escaped, html_page, sections_html
from nopost.render.svg import (
    INK,
    MONO,
    PAPER,
    SOFT,
    polyline,
    rectangle,
    spread_labels,
    text_at,
    text_width,
)

_PATTERNS = {
    "sec": ("#f4efe2", f'<circle cx="4" cy="4" r="1.1" fill="{INK}"/>'),
    "pei": ("#e4ecf5", f'<path d="M-2 2L2-2M0 8L8 0M6 10L10 6" stroke="{INK}" stroke-width=".9"/>'),
    "memory": ("#dce9dc", f'<path d="M2 0V8M6 0V8" stroke="{INK}" stroke-width=".9"/>'),
    "late-pei": ("#efe3f0", f'<path d="M-2 6L2 10M0 0L8 8M6-2L10 2" stroke="{INK}" stroke-width=".9"/>'),
    "dxe": ("#fbeadb", f'<path d="M0 2H8M0 6H8" stroke="{INK}" stroke-width=".8"/>'),
    "bds": ("#e3f1f1", f'<path d="M0 0H8M0 0V8" stroke="{INK}" stroke-width="1.1"/>'),
    "hand-over": ("#d5d5d5", ""),
    "runtime": (PAPER, ""),
    "recovery": ("#f6dede", f'<path d="M0 5L2 2 4 5 6 2 8 5" fill="none" stroke="{INK}" stroke-width="1.1"/>'),
    "resume": ("#f2f0d8", f'<circle cx="4" cy="4" r="2.4" fill="none" stroke="{INK}" stroke-width=".9"/>'),
    "any": (PAPER, f'<path d="M2 4H6" stroke="{INK}" stroke-width="1"/>'),
    "several": (PAPER, '<path d="M0 0H4V4H0ZM4 4H8V8H4Z" fill="#999"/>'),
    "": (PAPER, '<path d="M2 2L6 6M6 2L2 6" stroke="#777" stroke-width=".9"/>'),
}
"""Phase -> (tint, lines) of its fill, which prints in black and white; the empty name: a phase that is not known."""

_ENDING_SIGNS = {
    BootEnding.STOPPED: f'<path d="M-4.6-11H4.6L11-4.6V4.6L4.6 11H-4.6L-11 4.6V-4.6Z" fill="{INK}"/>'
    f'<rect x="-6.5" y="-2.2" width="13" height="4.4" fill="{PAPER}"/>',
    BootEnding.RESTARTED: f'<path d="M-7 0A7 7 0 1 0 0-7" fill="none" stroke="{INK}" stroke-width="2.2"/>'
    f'<path d="M1-11.5V-2.5L-5.5-7Z" fill="{INK}"/>',
    BootEnding.HANDED_OVER: f'<path d="M-10-3.2H1V-8.5L11 0 1 8.5V3.2H-10Z" fill="{PAPER}" stroke="{INK}" stroke-width="1.6"/>',
    BootEnding.BUSY: f'<circle r="10" fill="{PAPER}" stroke="{INK}" stroke-width="1.6"/>'
    f'<path d="M-5 0h.01M0 0h.01M5 0h.01" stroke="{INK}" stroke-width="3" stroke-linecap="round"/>',
    BootEnding.SILENT: f'<circle r="9.5" fill="{PAPER}" stroke="{INK}" stroke-width="2"/>'
    f'<path d="M-6.5 6.5L6.5-6.5" stroke="{INK}" stroke-width="2"/>',
    BootEnding.RECORD_ENDS: f'<path d="M-3-10V10M3-10V10" stroke="{INK}" stroke-width="1.4" stroke-dasharray="3 2"/>',
}
"""How a boot ended, drawn around (0, 0), 22 wide and high."""


def _pattern_fill(phase: str) -> str:
    """The `fill` attribute's value for a phase."""
    return f"url(#phase-{phase if phase in _PATTERNS and phase else 'unknown'})"


def _pattern_defs(phases: Iterable[str]) -> str:
    """The definitions of the fills of these phases."""
    found = []
    for phase in dict.fromkeys(phase if phase in _PATTERNS else "" for phase in phases):
        tint, lines = _PATTERNS[phase]
        head = f'<pattern id="phase-{phase or "unknown"}" width="8" height="8" patternUnits="userSpaceOnUse">'
        found.append(f'{head}<rect width="8" height="8" fill="{tint}"/>{lines}</pattern>')
    return f"<defs>{''.join(found)}</defs>"


def _ending_sign(ending: BootEnding, x: float, y: float) -> str:
    """The sign of an ending around a point."""
    return f'<g transform="translate({x:.1f} {y:.1f})">{_ENDING_SIGNS[ending]}</g>'


LABEL_SIZE, NOTE_SIZE, LABEL_LINE = 11.5, 9.5, 12.0
MOST_LINES, LONGEST_LINE = 4, 14
NEAR = 60.0
"""In one lane no label may lie farther from its place than this; else there are two."""
_WORDS = re.compile(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])|[^A-Za-z]+|[A-Za-z]")


@dataclass(frozen=True, slots=True)
class CodeLabel:
    """A code under the band. `at`: where on the band it belongs; `notes`: smaller lines under it."""

    at: float
    lines: tuple[str, ...]
    notes: tuple[str, ...]
    segment: TimelineSegment

    @property
    def width(self) -> float:
        wide = [text_width(text, LABEL_SIZE) for text in self.lines] + [text_width(text, NOTE_SIZE) for text in self.notes]
        return max(wide) + (8 if self.segment.piece.error or self.segment.piece.stop else 0)

    @property
    def height(self) -> float:
        return LABEL_LINE * (len(self.lines) + len(self.notes))


def labels_of(row: BootRow, left: float, room: float, lettered: dict[int, str]) -> list[CodeLabel]:
    """The labels of a row; a phase too narrow for its letter has it under its first code."""
    found = []
    for i, segment in enumerate(row.segments):
        piece = segment.piece
        notes = [duration(piece.seconds)] if piece.seconds and piece.seconds >= row.long_stay else []
        notes += [f"({phase_of(lettered[i]).letter})"] if i in lettered else []
        lines = _wrapped(f"!{piece.label}" if piece.error else piece.label)
        at = left + (segment.start + segment.width / 2) * room
        found.append(CodeLabel(at, lines, tuple(notes), segment))
    return found


def _wrapped(text: str) -> tuple[str, ...]:
    """A long label in lines, broken where a word begins."""
    if len(text) <= LONGEST_LINE:
        return (text,)
    lines = [""]
    for word in _WORDS.findall(text):
        for part in (word[i : i + LONGEST_LINE] for i in range(0, len(word), LONGEST_LINE)):
            if lines[-1] and len(lines[-1]) + len(part) > LONGEST_LINE:
                lines.append("")
            lines[-1] += part
    return tuple(lines if len(lines) <= MOST_LINES else [*lines[: MOST_LINES - 1], lines[MOST_LINES - 1][:-1] + "…"])


def drawn_labels(labels: list[CodeLabel], left: float, right: float, y: float) -> tuple[str, float]:
    """Labels in one lane or two with lines that lead to them; with too little room the least important ones are left out."""
    while True:
        for lanes in (1, 2):
            widths = [label.width for label in labels]
            places = spread_labels([label.at for label in labels], widths, left, right, 6.0, lanes)
            if places is not None and (lanes == 2 or max(abs(x - n.at) for x, n in zip(places, labels, strict=True)) < NEAR):
                return _drawn_lanes(labels, places, lanes, y)
        if places is not None:
            return _drawn_lanes(labels, places, 2, y)
        drop = max(range(len(labels)), key=lambda i: (labels[i].segment.piece.importance, labels[i].width))
        labels = labels[:drop] + labels[drop + 1 :]


def _drawn_lanes(labels: Sequence[CodeLabel], places: Sequence[float], lanes: int, y: float) -> tuple[str, float]:
    shift = max(abs(x - label.at) for x, label in zip(places, labels, strict=True))
    fan = min(26.0, 9.0 + shift / 6)
    upper = max((label.height for label in labels[::lanes]), default=0.0)
    lower = max((label.height for label in labels[1::2]), default=0.0) if lanes == 2 else 0.0
    parts = []
    for i, (label, x) in enumerate(zip(labels, places, strict=True)):
        top = y + fan + (upper + 5 if i % lanes else 0.0)
        points = [(label.at, y), (label.at, y + 2), (x, y + fan - 2), *([(x, top - 1)] if i % lanes else [])]
        heavy = label.segment.piece.stop
        parts.append(polyline(points, f'stroke-width="{1.8 if heavy else 0.6}"'))
        parts.append(_label(label, x, top))
    return "".join(parts), fan + upper + (lower + 5 if lower else 0.0) + 2


def _label(label: CodeLabel, x: float, top: float) -> str:
    piece = label.segment.piece
    parts = []
    height = LABEL_LINE * len(label.lines) + 1
    if piece.stop:
        parts.append(rectangle(x - label.width / 2, top - 0.5, label.width, height, f'fill="{INK}"'))
    elif piece.error:
        parts.append(
            rectangle(x - label.width / 2, top - 0.5, label.width, height, f'fill="{PAPER}" stroke="{INK}" stroke-width="1.3"')
        )
    more = f'font-family="{MONO}" text-anchor="middle" fill="{PAPER if piece.stop else INK}"'
    more += ' font-weight="bold"' if piece.stop or piece.error or piece.importance is Importance.ENDPOINT else ""
    for k, text in enumerate(label.lines):
        parts.append(text_at(x, top + LABEL_LINE * k + 9.7, text, LABEL_SIZE, more))
    for k, text in enumerate(label.notes, len(label.lines)):
        parts.append(text_at(x, top + LABEL_LINE * k + 9.7, text, NOTE_SIZE, f'fill="{SOFT}" text-anchor="middle"'))
    return "".join(parts)


BAND, PLATE_SIZE = 30.0, 12.0
BOLD_SHARE = 0.68
"""Width of a bold letter, as a share of its size."""
SIGN_ROOM = 34.0
ENDING_ROOM = 420.0
"""Room for the words at the end of a boot."""


def row_drawing(row: BootRow, timeline: Timeline, left: float, right: float, y: float) -> tuple[str, float]:
    """The SVG of a boot between two sides, from `y` down, and its height."""
    room = right - left - SIGN_ROOM
    parts = [text_at(left, y + 12, row.title, 13, 'font-weight="bold"')]
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
    part = rectangle(x, top, max(width, 0.6), BAND, f'fill="{_pattern_fill(phase)}" stroke="{INK}" stroke-width="1"')
    words = _plate(phase, width)
    if not words:
        return part
    plate = text_width(words, PLATE_SIZE, BOLD_SHARE) + 4
    middle = x + width / 2
    part += rectangle(middle - plate / 2, top + BAND / 2 - 8.5, plate, 17, f'fill="{PAPER}" rx="2"')
    return part + text_at(middle, top + BAND / 2 + 4.3, words, PLATE_SIZE, 'font-weight="bold" text-anchor="middle"')


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
                parts.append(polyline(zig, f'style="stroke:{colour}" stroke-width="{6 if colour == PAPER else 1.2}"'))
    return "".join(parts)


def _axis(timeline: Timeline, left: float, room: float, top: float) -> str:
    """Ticks and seconds over the band."""
    step = 10 ** math.floor(math.log10(timeline.axis))
    step = next(step * k for k in (0.1, 0.2, 0.5, 1, 2, 5) if timeline.axis / (step * k) <= 8)
    parts = []
    for k in range(int(timeline.axis / step + 1e-9) + 1):
        x = left + k * step / timeline.seconds * room
        parts.append(polyline([(x, top - 4), (x, top)], 'stroke-width=".8"'))
        anchor = "start" if k == 0 else "middle"
        parts.append(text_at(x, top - 6, duration(k * step), 10, f'fill="{SOFT}" text-anchor="{anchor}"'))
    return "".join(parts)


def _ending(row: BootRow, end: float, right: float, y: float, top: float) -> str:
    """The sign at the end of the band, and words beside it or, without room, over it."""
    middle = top + BAND / 2
    part = _ending_sign(row.ending, end + 18, middle)
    size = 14.5 if row.ending is BootEnding.STOPPED else 12.5
    size = min(size, size * ENDING_ROOM / text_width(row.words, size, BOLD_SHARE))
    wide = text_width(row.words, size, BOLD_SHARE)
    more = f'font-weight="{"bold" if row.ending is not BootEnding.RESTARTED else "normal"}"'
    if end + SIGN_ROOM + wide <= right:
        return part + text_at(end + SIGN_ROOM + 2, middle + 5, row.words, size, more)
    return part + text_at(right, y + 12, row.words, size, more + ' text-anchor="end"')


WIDTH = 900
MARGIN = 24
BRACKET = 70
"""Room for the bracket of a loop, at the left."""
LEGEND_COLUMNS = 2
_BOLD = 'font-weight="bold" text-anchor="middle"'
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
        text_at(MARGIN, 34, _fitted(timeline.headline, 19, BOLD_SHARE), 19, 'font-weight="bold"'),
        text_at(MARGIN, 55, _fitted(timeline.detail, 12.5, 0.6), 12.5, f'fill="{SOFT}"'),
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
        body.append(text_at(MARGIN, y + 10, _fitted(f"Loop: {timeline.loop.words}.", 13, BOLD_SHARE), 13, 'font-weight="bold"'))
        y += 26
    legend, y = _legend(timeline, y + 4)
    height = round(y + 14)
    described = " ".join(_described(timeline))
    paper = rectangle(0, 0, WIDTH, height, f'fill="{PAPER}"')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" height="{height}" role="img" '
        f'font-family="system-ui, sans-serif" fill="{INK}">\n'
        f"<title>{escaped(timeline.headline)}</title>\n<desc>{escaped(described)}</desc>\n{_pattern_defs(timeline.phases())}\n"
        f"{paper}\n" + "\n".join([*body, legend]) + "\n</svg>\n"
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
    dots = "".join(f'<circle cx="{left + 8:.1f}" cy="{y + 3 + 8 * k:.1f}" r="1.8"/>' for k in range(3))
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
        text_at(x, middle + k * 17, word, min(size, 40 / max(1, len(word) * 0.6)), _BOLD) for k, (word, size) in enumerate(words)
    ]
    return polyline([(right, top), (spine, top), (spine, bottom), (right, bottom)], 'stroke-width="2.5"') + "".join(told)


def _legend(timeline: Timeline, y: float) -> tuple[str, float]:
    """What patterns, letters and signs mean; where it ends."""
    drawn = timeline.phases()
    rows = [row for row in timeline.rows if isinstance(row, BootRow)]
    pieces = [segment.piece for row in rows for segment in row.segments]
    entries = [(phase.full_name, _swatch(phase.id)) for phase in PHASES.values() if phase.id in drawn]
    for ending in ENDING_WORDS:
        if any(row.ending is ending for row in rows):
            entries.append((ENDING_WORDS[ending], f'<g transform="translate(17 0) scale(.72)">{_ending_sign(ending, 0, 0)}</g>'))
    if any(piece.error for piece in pieces):
        frame = rectangle(9, -7, 16, 14, f'fill="{PAPER}" stroke="{INK}" stroke-width="1.3"')
        entries.append(("an error code", frame + text_at(17, 4.3, "!", 12, _BOLD)))
    if any(not piece.code for piece in pieces):
        entries.append(("so many codes that are not drawn one by one", text_at(17, 4, "+…", 12, f'{_BOLD} font-family="{MONO}"')))
    if any(segment.cut for row in rows for segment in row.segments):
        edges = "".join(polyline([(x + 3, -9), (x - 3, -3), (x + 3, 3), (x - 3, 9)], 'stroke-width="1.2"') for x in (14, 20))
        entries.append(("a long wait, drawn short", edges))
    parts = [polyline([(MARGIN, y), (WIDTH - MARGIN, y)], 'stroke-width=".8"')]
    lines = max(1, (len(entries) + LEGEND_COLUMNS - 1) // LEGEND_COLUMNS)
    for i, (words, mark) in enumerate(entries):
        x = MARGIN + i // lines * (WIDTH - 2 * MARGIN) / LEGEND_COLUMNS
        middle = y + 20 + i % lines * 24
        parts.append(f'<g transform="translate({x:.1f} {middle:.1f})">{mark}</g>{text_at(x + 44, middle + 4.5, words, 12.5)}')
    return "\n".join(parts), y + 20 + lines * 24 - 8


def _swatch(phase: str) -> str:
    """A bit of a phase's pattern with its letter."""
    fill = rectangle(0, -9, 34, 18, f'fill="{_pattern_fill(phase)}" stroke="{INK}" stroke-width=".8"')
    return fill + rectangle(10.5, -7, 13, 14, f'fill="{PAPER}" rx="2"') + text_at(17, 4.3, phase_of(phase).letter, 12, _BOLD)


def timeline_html(timeline: Timeline, title: str, sections: Sequence[tuple[str, Sequence[str]]]) -> str:
    """A page with the picture and lists under it."""
    return html_page(title, f"<figure>{timeline_svg(timeline)}</figure>\n{sections_html(sections)}")
