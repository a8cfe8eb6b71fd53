"""One boot of a timeline as SVG: its title, the band of phases, the axis over it, and how it ended."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from nopost.codes.label_drawing import drawn_labels, labels_of
from nopost.codes.phase_words import duration, letter, short_name
from nopost.codes.placing import Segment
from nopost.codes.svg_parts import INK, PAPER, SOFT, box, line, pattern_name, sign, text_at, text_width
from nopost.codes.timeline import Ending, Row, Timeline

BAND, PLATE = 30.0, 12.0
BOLD = 0.68
"""Width of a bold letter, as a share of its size."""
SIGN_ROOM = 34.0
WORDS = 420.0
"""Room for the words at the end of a boot."""


def row_drawing(row: Row, timeline: Timeline, left: float, right: float, y: float) -> tuple[str, float]:
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


def _spans(segments: Sequence[Segment]) -> list[tuple[str, float, float, int]]:
    """Neighbours of one phase as one: phase, from, to, index of the first."""
    found = []
    for phase, group in itertools.groupby(enumerate(segments), key=lambda pair: pair[1].piece.phase):
        inside = list(group)
        (first, begin), (_, end) = inside[0], inside[-1]
        found.append((phase, begin.start, end.start + end.width, first))
    return found


def _band_part(phase: str, x: float, width: float, top: float) -> str:
    """A phase with its pattern, and its name or letter on a plate where there is room."""
    part = box(x, top, max(width, 0.6), BAND, f'fill="{pattern_name(phase)}" stroke="{INK}" stroke-width="1"')
    words = _plate(phase, width)
    if not words:
        return part
    plate = text_width(words, PLATE, BOLD) + 4
    middle = x + width / 2
    part += box(middle - plate / 2, top + BAND / 2 - 8.5, plate, 17, f'fill="{PAPER}" rx="2"')
    return part + text_at(middle, top + BAND / 2 + 4.3, words, PLATE, 'font-weight="bold" text-anchor="middle"')


def _plate(phase: str, width: float) -> str:
    """The name of a phase, its letter, or nothing, as there is room."""
    choice = (f"{letter(phase)} {short_name(phase)}", letter(phase))
    return next((words for words in choice if text_width(words, PLATE, BOLD) + 8 <= width), "")


def _edges(segments: Sequence[Segment], left: float, room: float, top: float) -> str:
    """Where one code gives way to the next: notches at the lower edge of the band; a break where it stood longer than drawn."""
    parts = [line([(left + s.start * room, top + BAND - 4), (left + s.start * room, top + BAND)]) for s in segments[1:]]
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
    size = min(size, size * WORDS / text_width(row.words, size, BOLD))
    wide = text_width(row.words, size, BOLD)
    more = f'font-weight="{"bold" if row.ending is not Ending.RESTARTED else "normal"}"'
    if end + SIGN_ROOM + wide <= right:
        return part + text_at(end + SIGN_ROOM + 2, middle + 5, row.words, size, more)
    return part + text_at(right, y + 12, row.words, size, more + ' text-anchor="end"')
