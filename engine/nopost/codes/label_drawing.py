"""The codes under a boot's band as SVG: labels that never lie over each other, with lines that lead to where they belong."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from nopost.codes.condense import FIRM
from nopost.codes.phase_words import duration, letter
from nopost.codes.placing import Segment
from nopost.codes.spread import spread
from nopost.codes.svg_parts import INK, MONO, PAPER, SOFT, box, line, text_at, text_width
from nopost.codes.timeline import Row

SIZE, SMALL, LINE = 11.5, 9.5, 12.0
MOST_LINES, LONGEST_LINE = 4, 14
NEAR = 60.0
"""In one lane no label may lie farther from its place than this; else there are two."""
_WORDS = re.compile(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])|[^A-Za-z]+|[A-Za-z]")


@dataclass(frozen=True, slots=True)
class Label:
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


def labels_of(row: Row, left: float, room: float, lettered: dict[int, str]) -> list[Label]:
    """The labels of a row; a phase too narrow for its letter has it under its first code."""
    found = []
    for i, segment in enumerate(row.segments):
        piece = segment.piece
        notes = [duration(piece.seconds)] if piece.seconds and piece.seconds >= row.long_stay else []
        notes += [f"({letter(lettered[i])})"] if i in lettered else []
        lines = _wrapped(f"!{piece.label}" if piece.error else piece.label)
        at = left + (segment.start + segment.width / 2) * room
        found.append(Label(at, lines, tuple(notes), segment))
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


def drawn_labels(labels: list[Label], left: float, right: float, y: float) -> tuple[str, float]:
    """Labels in one lane or two with lines that lead to them; with too little room the least important ones are left out."""
    while True:
        for lanes in (1, 2):
            widths = [label.width for label in labels]
            places = spread([label.at for label in labels], widths, left, right, 6.0, lanes)
            if places is not None and (lanes == 2 or max(abs(x - n.at) for x, n in zip(places, labels, strict=True)) < NEAR):
                return _drawn(labels, places, lanes, y)
        if places is not None:
            return _drawn(labels, places, 2, y)
        drop = max(range(len(labels)), key=lambda i: (labels[i].segment.piece.matters, labels[i].width))
        labels = labels[:drop] + labels[drop + 1 :]


def _drawn(labels: Sequence[Label], places: Sequence[float], lanes: int, y: float) -> tuple[str, float]:
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


def _label(label: Label, x: float, top: float) -> str:
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
