"""The labels of the codes under a timeline's band: in one lane or two, never over each other, with lines to where they belong.

With too little room the least important labels are left out.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from nopost.codes.code_events import phase_of
from nopost.codes.timeline import BootRow
from nopost.codes.timeline_layout import Importance, TimelineSegment
from nopost.codes.wording import duration
from nopost.render.svg import INK, MONO, PAPER, SOFT, Attribute, polyline, rectangle, text_at, text_width

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
        parts.append(polyline(points, stroke_width=1.8 if heavy else 0.6))
        parts.append(_label(label, x, top))
    return "".join(parts), fan + upper + (lower + 5 if lower else 0.0) + 2


def _label(label: CodeLabel, x: float, top: float) -> str:
    piece = label.segment.piece
    parts = []
    height = LABEL_LINE * len(label.lines) + 1
    if piece.stop:
        parts.append(rectangle(x - label.width / 2, top - 0.5, label.width, height, fill=INK))
    elif piece.error:
        parts.append(rectangle(x - label.width / 2, top - 0.5, label.width, height, fill=PAPER, stroke=INK, stroke_width=1.3))
    strong = piece.stop or piece.error or piece.importance is Importance.ENDPOINT
    style: dict[str, Attribute] = {"font_family": MONO, "text_anchor": "middle", "fill": PAPER if piece.stop else INK}
    style["font_weight"] = "bold" if strong else None
    for k, text in enumerate(label.lines):
        parts.append(text_at(x, top + LABEL_LINE * k + 9.7, text, LABEL_SIZE, **style))
    for k, text in enumerate(label.notes, len(label.lines)):
        parts.append(text_at(x, top + LABEL_LINE * k + 9.7, text, NOTE_SIZE, fill=SOFT, text_anchor="middle"))
    return "".join(parts)


LabelDistance = tuple[int, int, float]
"""Two labels, the left one first, and how far apart their middles must be at least."""


def spread_labels(
    wanted: Sequence[float], widths: Sequence[float], left: float, right: float, space: float, lanes: int
) -> list[float] | None:
    """Middles of the labels between `left` and `right`, or None when there is no room; label i stands in lane i % lanes, of
    one or two. With two lanes the line that leads to a label of the lower one passes between two of the upper one.

    The labels pushed to the right as far as needed are one answer, pushed to the left another; both keep the distances, and so
    does the mean of the two.
    """
    apart = _distances(widths, space, lanes)
    lows, highs = [left + w / 2 for w in widths], [right - w / 2 for w in widths]
    rightward = [max(x, low) for x, low in zip(wanted, lows, strict=True)]
    _push_right(rightward, apart)
    rightward = [min(x, high) for x, high in zip(rightward, highs, strict=True)]
    _push_left(rightward, apart)
    if any(x < low - 1e-6 for x, low in zip(rightward, lows, strict=True)):
        return None
    leftward = [min(x, high) for x, high in zip(wanted, highs, strict=True)]
    _push_left(leftward, apart)
    leftward = [max(x, low) for x, low in zip(leftward, lows, strict=True)]
    _push_right(leftward, apart)
    return [(a + b) / 2 for a, b in zip(leftward, rightward, strict=True)]


def _push_right(places: list[float], apart: Sequence[LabelDistance]) -> None:
    for i, j, distance in apart:
        places[j] = max(places[j], places[i] + distance)


def _push_left(places: list[float], apart: Sequence[LabelDistance]) -> None:
    for i, j, distance in reversed(apart):
        places[i] = min(places[i], places[j] - distance)


def _distances(widths: Sequence[float], space: float, lanes: int) -> list[LabelDistance]:
    """Which labels must keep apart, in order of the right one."""
    found: list[LabelDistance] = []
    for j in range(1, len(widths)):
        if lanes == 1:
            found.append((j - 1, j, (widths[j - 1] + widths[j]) / 2 + space))
            continue
        if j > 1:
            found.append((j - 2, j, (widths[j - 2] + widths[j]) / 2 + space))
        upper = j - 1 if (j - 1) % 2 == 0 else j
        found.append((j - 1, j, widths[upper] / 2 + space / 2))
    return found
