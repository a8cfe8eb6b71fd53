"""`nopost report`: a session written down; as SVG it is the screen of the next step, without anything from outside."""

from __future__ import annotations

import io
from pathlib import Path

import click
from rich.console import Console
from rich.terminal_theme import TerminalTheme

from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.history import Session, observations
from nopost.render.report import html_report, markdown_report, report_data
from nopost_cli.dialogue.session_screens import step_screen
from nopost_cli.shared.input_output import print_json
from nopost_cli.shared.options import kb_option, kept_session
from nopost_cli.shared.terminal import clean

WIDTH = 92

_PAPER = TerminalTheme(
    (255, 255, 255),
    (20, 20, 20),
    [(20, 20, 20), (150, 0, 0), (0, 110, 0), (140, 90, 0), (0, 60, 150), (120, 0, 120), (0, 105, 125), (90, 90, 90)],
)
"""Dark letters on white, so that it prints."""

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


def step_picture(assessor: Diagnostician, session: Session, assessment: Diagnosis) -> str:
    """The SVG text."""
    console = Console(record=True, width=WIDTH, file=io.StringIO(), markup=False, emoji=False, highlight=False)
    console.print(step_screen(console, assessor, session, assessment, assessment.advice.step))
    return console.export_svg(title=f"nopost: {session.name}", theme=_PAPER, code_format=_SVG, unique_id="nopost")


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
    knowledge, session = kept_session(name, kb)
    assessor = Diagnostician(knowledge)
    assessment = assessor.assess(observations(session, knowledge), session.person)
    if form == "json":
        print_json("report", report_data(knowledge, session, assessment))
    elif form == "svg":
        click.echo(step_picture(assessor, session, assessment), nl=False)
    else:
        write = markdown_report if form == "md" else html_report
        click.echo(clean(write(knowledge, session, assessment)), nl=False)
