"""What several commands draw: headings, bars, causes, cautions, lists, weights of evidence.

Functions take values and return rich renderables; nothing here decides anything.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rich.box import HORIZONTALS
from rich.console import Console, Group, RenderableType
from rich.panel import Panel
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from nopost.text import decibans, percent
from nopost_cli.shared.terminal import clean, glyphs

if TYPE_CHECKING:  # commands that draw no causes need not load the belief
    from nopost.diagnosis.cautions import CautionView
    from nopost.diagnosis.step_view import AreaView, CauseView
    from nopost.firmware.check_result import CheckResult
    from nopost.knowledge.model import Hazard

BAR, NARROW_BAR = 16, 6
LEADING = 3
LEAST_AREA = 0.01
"""An area of a smaller probability is not named (judgement)."""
INDENT = (0, 0, 0, 2)
RESULT_LABELS = {"fix": ("Fix", "bold"), "check": ("Check", ""), "note": ("Note", ""), "good": ("Good", "")}
"""Level of a check's result -> its label and style."""


def heading(console: Console, text: str) -> RenderableType:
    """A line across the screen with a title."""
    return Rule(Text(clean(text)), align="left", characters=glyphs(console).dash, style="dim")


def line(label: str, text: str, style: str = "") -> RenderableType:
    """A label and text that wraps beside it."""
    grid = Table.grid(padding=(0, 1))
    grid.add_column(style="bold", no_wrap=True, width=9)
    grid.add_column(ratio=1, overflow="fold")
    grid.add_row(label, Text(clean(text), style=style))
    return grid


def result_line(result: CheckResult) -> RenderableType:
    """What a check of an image or a stick found."""
    label, style = RESULT_LABELS[result.level]
    return line(label, result.text, style)


def bar(console: Console, probability: float, width: int = BAR) -> Text:
    """A bar that is also told apart without colour."""
    marks = glyphs(console)
    filled = min(width, round(probability * width))
    return Text(marks.full * filled, style="cyan") + Text(marks.rest * (width - filled), style="dim")


def areas(found: Sequence[AreaView], count: int = LEADING) -> RenderableType:
    """The leading areas in one line, which is cut where the terminal ends."""
    shown = [f"{area.title} {percent(area.probability)}" for area in found[:count] if area.probability >= LEAST_AREA]
    said = ", ".join(shown) or "nothing points to one area"
    return Text(clean(f"Where: {said}"), no_wrap=True, overflow="ellipsis")


def ranking(console: Console, causes: Sequence[CauseView], count: int = LEADING) -> RenderableType:
    """The leading causes with bars, and what nobody wrote down when it is among them."""
    table = Table.grid(padding=(0, 1), expand=True)
    width = BAR if console.width >= 50 else NARROW_BAR
    table.add_column(width=width, no_wrap=True)
    table.add_column(justify="right", width=5, no_wrap=True)
    table.add_column(ratio=1)
    for cause in causes[:count]:
        table.add_row(
            bar(console, cause.probability, BAR if console.width >= 50 else 6), percent(cause.probability), clean(cause.title)
        )
    return table


def caution(hazard: Hazard, *, stops: bool) -> RenderableType:
    """A caution that cannot be overlooked, with or without colour."""
    word = "STOP" if stops else "CAUTION"
    text = Text.assemble((clean(f"{word}: {hazard.title}"), "bold yellow"), "\n", clean(hazard.caution))
    return Panel(text, box=HORIZONTALS, border_style="yellow", padding=0)


def cautions(before: Sequence[CautionView]) -> Iterator[RenderableType]:
    """The cautions before a step: whole, or all that need only be named in one line."""
    for each in before:
        if each.in_full:
            yield caution(each.hazard, stops=each.stops)
    short = [each.hazard.title for each in before if not each.in_full]
    if short:
        yield line("CAUTION", f"also: {'; '.join(short)}.", style="bold")


def numbered(texts: Sequence[str], start: int = 1, mark: str = "") -> RenderableType:
    """Choices with their numbers, or all with the same mark."""
    table = Table.grid(padding=(0, 1))
    table.add_column(justify="right", width=4, style="bold")
    table.add_column()
    for number, text in enumerate(texts, start):
        table.add_row(mark or str(number), Text(clean(text)))
    return table


def packed(items: Sequence[str], width: int) -> RenderableType:
    """Short items in as few lines as the width allows, none of them broken."""
    lines = [""]
    for item in items:
        if lines[-1] and len(lines[-1]) + 3 + len(item) > width:
            lines.append("")
        lines[-1] += ("   " if lines[-1] else "") + item
    return Text("\n".join(lines), style="dim")


def ordered(steps: Sequence[str]) -> RenderableType:
    """Steps with their numbers."""
    table = Table.grid(padding=(0, 1))
    table.add_column(justify="right", width=3)
    table.add_column(ratio=1)
    for number, text in enumerate(steps, 1):
        table.add_row(f"{number}.", Text(clean(text)))
    return table


def evidence_table(console: Console, columns: Sequence[tuple[str, Sequence[tuple[str, float]]]]) -> RenderableType:
    """Weights of evidence: a row for each piece, a column for each leading cause."""
    table = Table(expand=True, box=None, padding=(0, 1))
    table.add_column("Evidence (decibans: 10 is ten to one)", ratio=1)
    for number in range(1, len(columns) + 1):
        table.add_column(f"[{number}]", justify="right", width=5)
    rows = [piece for piece, _ in columns[0][1]] if columns else []
    for k, piece in enumerate(rows):
        table.add_row(Text(clean(piece)), *(decibans(weights[k][1]) for _, weights in columns))
    legend = [Text(f"[{n}] {clean(title)}") for n, (title, _) in enumerate(columns, 1)]
    return Group(heading(console, "Why: weights of evidence"), *legend, Text(), table)


def bullet_list(console: Console, title: str, texts: Sequence[str]) -> RenderableType:
    """A titled list to tick off."""
    table = Table.grid(padding=(0, 1))
    table.add_column(width=3, no_wrap=True)
    table.add_column(ratio=1)
    for text in texts:
        table.add_row(Text("[ ]"), Text(clean(text)))
    return Group(Text(f"\n{title}", style="bold"), table)
