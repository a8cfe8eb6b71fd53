"""Cautions in full, each in a heavy frame with the warning sign."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from nopost.charts.boxes import NAMELESS, SIGN_ROOM, sign
from nopost.charts.flow import BODY, STRONG, Block, heading
from nopost.charts.letters import Metrics
from nopost.charts.scene import Frame
from nopost.charts.setting import Row, height_of, set_rows, wrapped
from nopost.knowledge.model import Knowledge

_PAD, _GAP = 5.0, 5.0
_MOST_ROWS = 24
"""A longer caution goes on in a frame of its own."""


def caution_blocks(metrics: Metrics, knowledge: Knowledge, names: Iterable[str], width: float, title: str) -> list[Block]:
    """A heading and a frame for each; those that stop the work first. Nothing when there is none."""
    hazards = sorted((knowledge.hazards[name] for name in names if name in knowledge.hazards), key=lambda h: not h.stop)
    inner = width - 2 * _PAD - SIGN_ROOM
    blocks = []
    for hazard in hazards:
        rows = (
            *wrapped(metrics, hazard.title.strip() or NAMELESS, STRONG, inner),
            *wrapped(metrics, hazard.caution, BODY, inner),
        )
        blocks += [_frame(metrics, some, width) for some in _chunks(rows)]
    return [heading(metrics, title, width), *blocks] if blocks else []


def _chunks(rows: tuple[Row, ...]) -> Iterator[tuple[Row, ...]]:
    for start in range(0, len(rows), _MOST_ROWS):
        yield rows[start : start + _MOST_ROWS]


def _frame(metrics: Metrics, rows: tuple[Row, ...], width: float) -> Block:
    height = height_of(rows) + 2 * _PAD
    frame = Frame(1.0, 1.0, width - 2, height, 2.0, 1.0)
    items = (frame, *sign(_PAD, _PAD + 1), *set_rows(metrics, rows, _PAD + SIGN_ROOM, _PAD + 1))
    return Block(height + 2 + _GAP, items)
