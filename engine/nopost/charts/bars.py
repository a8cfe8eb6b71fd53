"""Bars of what a cause shows beside what is usual: full and open, so that they differ in black and white."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nopost.charts.flow import NOTE, STRONG, Block, heading
from nopost.charts.letters import Metrics
from nopost.charts.scene import Frame, Item
from nopost.charts.setting import BASE, LEADING, height_of, right_text, set_rows, set_text, wrapped
from nopost.charts.strength import Link, Strength

ANSWERS = 3
"""So many answers of a finding are drawn: those whose probability differs most."""
SEEN = 0.05
"""A finding is drawn when an answer differs by this much from what is usual; less cannot be seen in a bar (judgement)."""
_BAR, _TEXT, _NUMBERS = 4.0, 0.44, 66.0


@dataclass(frozen=True, slots=True)
class Bar:
    """An answer with its probability under the cause and usually."""

    answer: str
    here: float
    usual: float


def bar_blocks(metrics: Metrics, strength: Strength, cause: str, most: int, width: float) -> list[Block]:
    """A heading, the key, and the strongest findings with their bars; nothing when none says anything."""
    links = [link for link in strength.links(cause) if _seen(strength, link)][:most]
    blocks = [_finding(metrics, strength, cause, link.finding, link.decibans, width) for link in links]
    return [heading(metrics, "What it shows, strongest first", width), _key(metrics, width), *blocks] if blocks else []


def _seen(strength: Strength, link: Link) -> bool:
    return max(abs(bar.here - bar.usual) for bar in bars(strength, link.cause, link.finding)) >= SEEN


def bars(strength: Strength, cause: str, finding: str) -> list[Bar]:
    """The answers that differ most, in the finding's order."""
    here, usual = strength.shown(cause, finding)
    answers = strength.model.knowledge.findings[finding].answers
    chosen = sorted(sorted(range(len(answers)), key=lambda k: -abs(here[k] - usual[k]))[:ANSWERS])
    return [Bar(answers[k].text, float(here[k]), float(usual[k])) for k in chosen]


def _key(metrics: Metrics, width: float) -> Block:
    items: list[Item] = [Frame(0.0, 2.5, 12.0, _BAR, 0.0, 0.0)]
    items += set_rows(metrics, wrapped(metrics, "with this cause", NOTE, width / 2 - 20, most=1), 16.0, 0.0)
    items.append(Frame(width / 2 - 20, 2.5, 12.0, _BAR, 0.6, 1.0))
    items += set_rows(metrics, wrapped(metrics, "when nothing touches it", NOTE, width / 2, most=1), width / 2 - 4, 0.0)
    return Block(NOTE.size * 1.24 + 3, tuple(items), stays=True)


def _finding(metrics: Metrics, strength: Strength, cause: str, finding: str, decibans: float, width: float) -> Block:
    """Title and strength, then a line for each answer."""
    title = strength.model.knowledge.findings[finding].title
    rows = wrapped(metrics, title, STRONG, width - 62, most=3)
    items = set_rows(metrics, rows, 0.0, 0.0)
    items.append(right_text(metrics, f"{decibans:.1f} decibans", NOTE, width, STRONG.size * BASE))
    y = max(height_of(rows), STRONG.size * LEADING) + 1
    for bar in bars(strength, cause, finding):
        drawn, height = _answer(metrics, bar, width, y)
        items += drawn
        y += height
    return Block(y + 4, tuple(items))


def _answer(metrics: Metrics, bar: Bar, width: float, y: float) -> tuple[Sequence[Item], float]:
    rows = wrapped(metrics, bar.answer, NOTE, width * _TEXT - 6, most=2)
    height = max(height_of(rows), 2 * _BAR + 2) + 1.5
    x, room = width * _TEXT, width * (1 - _TEXT) - _NUMBERS
    numbers = metrics.shown(f"{_short(bar.here)} / {_short(bar.usual)}")
    items: list[Item] = list(set_rows(metrics, rows, 0.0, y))
    items.append(Frame(x, y + 1, max(room * bar.here, 0.4), _BAR, 0.0, 0.0))
    items.append(Frame(x, y + 1 + _BAR + 0.6, max(room * bar.usual, 0.4), _BAR, 0.6, 1.0))
    items.append(set_text(metrics, numbers, NOTE, x + room + 4, y + NOTE.size * BASE))
    return items, height


def _short(share: float) -> str:
    return "<1 %" if 0 < share < 0.005 else f"{100 * share:.0f} %"
