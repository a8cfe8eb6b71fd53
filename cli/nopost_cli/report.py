"""`nopost report`: a session written down; as SVG it is the screen of the next step, without anything from outside."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import click

from nopost_cli.shared.options import kb_option, kept_session
from nopost_cli.shared.terminal import clean, print_json

if TYPE_CHECKING:
    from rich.terminal_theme import TerminalTheme

    from nopost.diagnosis.step_view import StepView
    from nopost.store.sessions import Session

WIDTH = 92

_SVG = """<svg viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg" role="img" aria-label="Terminal: the next step">
<style>
.{unique_id}-matrix {{ font-family: monospace; font-size: {char_height}px; line-height: {line_height}px; }}
{styles}
</style>
<rect width="{width}" height="{height}" fill="#ffffff" stroke="#141414" stroke-width="2"/>
<defs>
<clipPath id="{unique_id}-clip-terminal"><rect x="0" y="0" width="{terminal_width}" height="{terminal_height}"/></clipPath>
{lines}
</defs>
<g transform="translate({terminal_x}, {terminal_y})" clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}
<g class="{unique_id}-matrix">
{matrix}
</g>
</g>
</svg>
"""


def _paper() -> TerminalTheme:
    """Dark letters on white, so that it prints."""
    from rich.terminal_theme import TerminalTheme

    return TerminalTheme(
        (255, 255, 255),
        (20, 20, 20),
        [(20, 20, 20), (150, 0, 0), (0, 110, 0), (140, 90, 0), (0, 60, 150), (120, 0, 120), (0, 105, 125), (90, 90, 90)],
    )


def step_picture(session: Session, view: StepView) -> str:
    """The SVG text of a step's screen."""
    from rich.console import Console

    from nopost_cli.dialogue.step_screen import step_screen

    console = Console(record=True, width=WIDTH, file=io.StringIO(), markup=False, emoji=False, highlight=False)
    console.print(step_screen(console, session.name, view, session.currency))
    return console.export_svg(title=f"nopost: {session.name}", theme=_paper(), code_format=_SVG, unique_id="nopost")


@click.command("report", short_help="Write a session down for a message or a shop.")
@click.argument("name", required=False)
@click.option(
    "--format",
    "form",
    type=click.Choice(["md", "json", "html", "svg"]),
    default="md",
    show_default=True,
    help="Form of the report.",
)
@kb_option
def command(name: str | None, form: str, kb: Path | None) -> None:
    """Write down the session NAME, or the one that was worked on last, on standard output."""
    from nopost.diagnosis.diagnose import Diagnostician
    from nopost.diagnosis.step_view import step_view
    from nopost.render.report import html_report, markdown_report, report_data

    knowledge, session = kept_session(name, kb)
    diagnostician = Diagnostician(knowledge)
    diagnosis = diagnostician.diagnose(session.history)
    view = step_view(diagnostician, session.history, diagnosis, kb=session.kb)
    if form == "json":
        print_json("report", report_data(knowledge, session, diagnosis, view))
    elif form == "svg":
        click.echo(step_picture(session, view), nl=False)
    else:
        write = markdown_report if form == "md" else html_report
        click.echo(clean(write(knowledge, session, diagnosis, view)), nl=False)
