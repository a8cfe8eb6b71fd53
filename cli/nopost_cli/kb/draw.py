"""`nopost kb draw`: the knowledge as a map, the questions as a decision chart, causes as pages of a binder."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from nopost_cli.shared.options import knowledge_of, own_kb_option

F = TypeVar("F", bound=Callable[..., Any])


@click.group("draw", short_help="Draw the knowledge, the questions, or one cause's page.")
def command() -> None:
    """Draw for paper, plain and good to read in black and white: a map, a decision chart, or pages for a binder."""


def drawing_options(function: F) -> F:
    """What all drawings share: where to, paper, date, font, knowledge base."""
    font_type = click.Path(path_type=Path, exists=True, dir_okay=False)
    for option in (
        own_kb_option,
        click.option("--force", is_flag=True, help="Write over files that are there."),
        click.option("--font", metavar="FILE", type=font_type, help="Font of a PDF; without it only Western letters are shown."),
        click.option("--date", "dated", metavar="TEXT", default="", help="Date to print at the head; without it there is none."),
        click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Size of the paper."),
        click.option("--out", metavar="FILE", type=click.Path(path_type=Path), help="File to write: .pdf or .svg."),
    ):
        function = option(function)
    return function


@command.command("map", short_help="Causes and findings, and how strongly they belong together.")
@click.option("--part", "parts", metavar="PART", multiple=True, help="Only causes of this part (again for more).")
@click.option("--cause", "causes", metavar="CAUSE", multiple=True, help="Only this cause (again for more).")
@click.option("--top", type=click.IntRange(1, 50), default=4, show_default=True, help="Lines for each cause, the strongest.")
@drawing_options
def draw_map(parts: tuple[str, ...], causes: tuple[str, ...], top: int, kb: Path | None, **drawing: Any) -> None:
    """Draw causes and findings with lines between them, heavier for more weight of evidence.

    One or more pages, causes by part. Without --part and --cause, all causes.
    """
    from nopost_cli.kb import drawings

    target = drawings.target_of(drawing, "map")
    target.save(drawings.map_pages_of(knowledge_of(kb), parts, causes, top, target))


@command.command("chart", short_help="The first questions as a tree.")
@click.option("--levels", type=click.IntRange(1, 12), default=4, show_default=True, help="Questions and fixes in a row.")
@click.option(
    "--least",
    type=click.FloatRange(0.01, 50),
    default=1.0,
    show_default=True,
    metavar="PERCENT",
    help="Leave out branches that fewer machines reach.",
)
@drawing_options
def draw_chart(levels: int, least: float, kb: Path | None, **drawing: Any) -> None:
    """Draw the questions in the order in which the advice asks them, as a tree.

    A branch that raises a caution is never left out; what is left out is named with its share.
    """
    if math.isnan(least):
        raise click.BadParameter("it must be a number", param_hint="--least")
    from nopost_cli.kb import drawings

    target = drawings.target_of(drawing, "chart")
    target.save(drawings.chart_pages_of(knowledge_of(kb), levels, least / 100, target))


@command.command("page", short_help="A page for a binder for each cause.")
@click.argument("causes", metavar="CAUSE...|all", nargs=-1, required=True)
@drawing_options
def draw_page(causes: tuple[str, ...], kb: Path | None, **drawing: Any) -> None:
    """Draw a page for a binder for each CAUSE, or for all of them.

    What it is and how it shows, what it is mistaken for, cautions, fixes step by step, proof, sources. One page each, else two.
    """
    from nopost_cli.kb import drawings

    target = drawings.target_of(drawing, causes[0] if len(causes) == 1 and causes != ("all",) else "pages")
    target.save(drawings.cause_pages_of(knowledge_of(kb), causes, target))
