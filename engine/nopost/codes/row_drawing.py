"""One boot of a timeline as SVG: its title, the band of phases, the codes under it, the axis over it, and how it ended."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from nopost.codes.condense import FIRM
from nopost.codes.phase_words import duration, letter, short_name
from nopost.codes.spread import spread
from nopost.codes.svg_parts import INK, MONO, PAPER, SOFT, box, line, pattern_name, sign, text_at, text_width
from nopost.codes.timeline import Ending, Row, Segment, Timeline

BAND = 30.0
SIZE, SMALL, PLATE = 11.5, 9.5, 12.0
LINE = 12.0
BOLD = 0.68
"""Width of a bold letter, as a share of its size."""
SIGN_ROOM = 34.0
MOST_LINES = 4
LONGEST_LINE = 14
_WORDS = re.compile(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])|[^A-Za-z]+|[A-Za-z]")


@dataclass(frozen=True, slots=True)
class _Label:
    """A code under the band. `at`: where on the band it belongs; `notes`: smaller lines under it."""

    at: float
    lines: tuple[str, ...]
    notes: tuple[str, ...]
    segment: Segment

    @property
    def width(self) -> float:
        wide = [text_width(text, SIZE) for text in self.lines] + [text_width(text, SMALL) for text in self.notes]
        return max(wide) + (8 if self.segment.piece.error or self.segment.piece.stop else 0)

    @property
    def height(self) -> float:
        return LINE * (len(self.lines) + len(self.notes))


def row_drawing(row: Row, timeline: Timeline, left: float, right: float, y: float) -> tuple[str, float]:
    """The SVG of a boot between two sides, from `y` down, and its height."""
    room = right - left - SIGN_ROOM
    parts = [text_at(left, y + 12, row.title, 13, 'font-weight="bold"')]
    top = y + 22 + (16 if timeline.seconds else 0)
    if timeline.seconds:
        parts.append(_axis(timeline, left, room, top))
    spans = _spans(row.segments)
    parts += [_band_part(phase, left + a * room, (b - a) * room, top) for phase, a, b in spans]
    parts += [_edges(row.segments, left, room, top)]
    end = left + room * (row.segments[-1].start + row.segments[-1].width)
    parts += [_ending(row, end, right, y, top)]
    narrow = {i for i, (_, a, b) in enumerate(spans) if (b - a) * room < 16}
    labels = _labels(row, left, room, {spans[i][1]: spans[i][0] for i in narrow})
    under, height = _under(labels, left, right, top + BAND)
    return "\n".join([*parts, under]), top + BAND + height - y


def _spans(segments: Sequence[Segment]) -> list[tuple[str, float, float]]:
    """Neighbours of one phase as one: phase, from, to."""
    found = []
    for phase, group in itertools.groupby(segments, key=lambda segment: segment.piece.phase):
        inside = list(group)
        found.append((phase, inside[0].start, inside[-1].start + inside[-1].width))
    return found


def _band_part(phase: str, x: float, width: float, top: float) -> str:
    """A phase with its pattern, and its name or letter on a plate where there is room."""
    part = box(x, top, max(width, 0.6), BAND, f'fill="{pattern_name(phase)}" stroke="{INK}" stroke-width="1"')
    words = next(
        (w for w in (f"{letter(phase)} {short_name(phase)}", letter(phase)) if text_width(w, PLATE, BOLD) + 8 <= width), ""
    )
    if not words:
        return part
    plate = text_width(words, PLATE, BOLD) + 4
    middle = x + width / 2
    part += box(middle - plate / 2, top + BAND / 2 - 8.5, plate, 17, f'fill="{PAPER}" rx="2"')
    return part + text_at(middle, top + BAND / 2 + 4.3, words, PLATE, 'font-weight="bold" text-anchor="middle"')


def _edges(segments: Sequence[Segment], left: float, room: float, top: float) -> str:
    """Where one code gives way to the next: notches at the lower edge of the band; a break where it stood longer than drawn."""
    parts = [line([(left + s.start * room, top + BAND - 6), (left + s.start * room, top + BAND)]) for s in segments[1:]]
    for segment in segments:
        if segment.cut:
            x = left + (segment.start + segment.width * 0.82) * room
            for shift, colour in ((0.0, PAPER), (-3.5, INK), (3.5, INK)):
                zig = [(x + shift + (3 if k % 2 else -3), top - 3 + k * (BAND + 6) / 4) for k in range(5)]
                parts.append(line(zig, f'style="stroke:{colour}" stroke-width="{6 if colour == PAPER else 1.2}"'))
    return "".join(parts)


def _axis(timeline: Timeline, left: float, room: float, top: float) -> str:
    """Ticks and seconds over the band."""
    step = 10 ** math.floor(math.log10(timeline.axis))
    step = next(step * k for k in (0.1, 0.2, 0.5, 1, 2, 5) if timeline.axis / (step * k) <= 8)
    parts = []
    for k in range(int(timeline.axis / step + 1e-9) + 1):
        x = left + k * step / timeline.seconds * room
        parts.append(line([(x, top - 4), (x, top)], 'stroke-width=".8"'))
        anchor = "start" if k == 0 else "middle"
        parts.append(text_at(x, top - 6, duration(k * step), 10, f'fill="{SOFT}" text-anchor="{anchor}"'))
    return "".join(parts)


def _ending(row: Row, end: float, right: float, y: float, top: float) -> str:
    """The sign at the end of the band, and words beside it or, without room, over it."""
    middle = top + BAND / 2
    part = sign(row.ending.value, end + 18, middle)
    size = 14.5 if row.ending is Ending.STOPPED else 12.5
    wide = text_width(row.words, size, BOLD)
    more = f'font-weight="{"bold" if row.ending is not Ending.RESTARTED else "normal"}"'
    if end + SIGN_ROOM + wide <= right:
        return part + text_at(end + SIGN_ROOM + 2, middle + 5, row.words, size, more)
    return part + text_at(right, y + 12, row.words, size, more + ' text-anchor="end"')


def _labels(row: Row, left: float, room: float, lettered: dict[float, str]) -> list[_Label]:
    """The labels of a row; a phase too narrow for its letter has it under its first code."""
    total = sum(s.piece.seconds or 0.0 for s in row.segments)
    stays = sorted((s.piece.seconds for s in row.segments if s.piece.seconds), reverse=True)
    least = max(stays[:3][-1] if stays else 0.0, 0.12 * total)
    found = []
    for segment in row.segments:
        piece = segment.piece
        notes = [duration(piece.seconds)] if piece.seconds and piece.seconds >= least else []
        notes += [f"({letter(lettered[segment.start])})"] if segment.start in lettered else []
        lines = _wrapped(f"!{piece.label}" if piece.error else piece.label)
        at = left + (segment.start + segment.width / 2) * room
        found.append(_Label(at, lines, tuple(notes), segment))
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


def _under(labels: list[_Label], left: float, right: float, y: float) -> tuple[str, float]:
    """Labels in one lane or two with lines that lead to them; with too little room the least important ones are left out."""
    while True:
        for lanes in (1, 2):
            widths = [label.width for label in labels]
            places = spread([label.at for label in labels], widths, left, right, 6.0, lanes)
            if places is not None and (lanes == 2 or max(abs(x - n.at) for x, n in zip(places, labels, strict=True)) < 60):
                return _drawn(labels, places, lanes, y)
        if places is not None:
            return _drawn(labels, places, 2, y)
        drop = max(range(len(labels)), key=lambda i: (labels[i].segment.piece.matters, labels[i].width))
        labels = labels[:drop] + labels[drop + 1 :]


def _drawn(labels: Sequence[_Label], places: Sequence[float], lanes: int, y: float) -> tuple[str, float]:
    shift = max(abs(x - label.at) for x, label in zip(places, labels, strict=True))
    fan = min(26.0, 9.0 + shift / 6)
    upper = max((label.height for label in labels[::lanes]), default=0.0)
    lower = max((label.height for label in labels[1::2]), default=0.0) if lanes == 2 else 0.0
    parts = []
    for i, (label, x) in enumerate(zip(labels, places, strict=True)):
        top = y + fan + (upper + 5 if i % lanes else 0.0)
        points = [(label.at, y), (label.at, y + 2), (x, y + fan - 2), *([(x, top - 1)] if i % lanes else [])]
        heavy = label.segment.piece.stop
        parts.append(line(points, f'stroke-width="{1.8 if heavy else 0.6}"'))
        parts.append(_label(label, x, top))
    return "".join(parts), fan + upper + (lower + 5 if lower else 0.0) + 2


def _label(label: _Label, x: float, top: float) -> str:
    piece = label.segment.piece
    parts = []
    height = LINE * len(label.lines) + 1
    if piece.stop:
        parts.append(box(x - label.width / 2, top - 0.5, label.width, height, f'fill="{INK}"'))
    elif piece.error:
        parts.append(
            box(x - label.width / 2, top - 0.5, label.width, height, f'fill="{PAPER}" stroke="{INK}" stroke-width="1.3"')
        )
    more = f'font-family="{MONO}" text-anchor="middle" fill="{PAPER if piece.stop else INK}"'
    more += ' font-weight="bold"' if piece.stop or piece.error or piece.matters == FIRM else ""
    for k, text in enumerate(label.lines):
        parts.append(text_at(x, top + LINE * k + 9.7, text, SIZE, more))
    for k, text in enumerate(label.notes, len(label.lines)):
        parts.append(text_at(x, top + LINE * k + 9.7, text, SMALL, f'fill="{SOFT}" text-anchor="middle"'))
    return "".join(parts)
