"""`nopost drill sheet`: exercises and answers on paper."""

from __future__ import annotations

from pathlib import Path

import click

from nopost_cli.shared.options import kb_option, knowledge_of
from nopost_cli.shared.terminal import clean, make_console, refuse_existing, write_result


@click.command("sheet", short_help="Print exercises and answer sheets.")
@click.option("--count", type=click.IntRange(1, 200), default=3, show_default=True, help="How many exercises.")
@click.option("--level", type=click.Choice(["first", "second", "third"]), default="first", show_default=True, help="How hard.")
@click.option("--seed", type=click.IntRange(0, 2**31), default=1, show_default=True, help="Another seed, other exercises.")
@click.option("--no-answers", is_flag=True, help="Leave the answer sheets out.")
@click.option("--format", "form", type=click.Choice(["md", "html"]), default="md", show_default=True, help="Form.")
@click.option("--out", metavar="FILE", default="", help="Write to a file instead of printing.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@kb_option
def command(count: int, level: str, seed: int, no_answers: bool, form: str, out: str, force: bool, kb: Path | None) -> None:
    """Print exercises on paper: what was seen so far, questions to answer, and answer sheets for the trainer."""
    from rich.progress import track

    if out:
        refuse_existing(out, force)
    knowledge = knowledge_of(kb)
    from nopost.diagnosis.diagnose import Diagnostician
    from nopost.training.exercise import draw_exercise
    from nopost.training.exercise_sheet import html_sheets, markdown_sheets, sheet_of

    diagnostician = Diagnostician(knowledge)
    console = make_console(stderr=True)
    numbers = track(range(count), "Exercises", console=console, transient=True, disable=not console.is_terminal)
    sheets = [sheet_of(draw_exercise(diagnostician, seed + number, level), number + 1) for number in numbers]
    text = (html_sheets if form == "html" else markdown_sheets)(knowledge, sheets, seed, not no_answers)
    if not out:
        click.echo(clean(text), nl=False)
        return
    write_result(out, text)
    click.echo(f"{out}: {count} exercise{'' if count == 1 else 's'}{'' if no_answers else ' and their answers'}")
