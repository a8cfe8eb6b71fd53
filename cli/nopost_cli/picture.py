"""A picture of the terminal: the screen of the step that comes next, as SVG without anything from outside."""

from __future__ import annotations

import io

from rich.console import Console
from rich.terminal_theme import TerminalTheme

from nopost.advice.assess import Assessment, Assessor
from nopost.cases.session import Session
from nopost_cli.step_screen import step_screen

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


def step_picture(assessor: Assessor, session: Session, assessment: Assessment) -> str:
    """The SVG text."""
    console = Console(record=True, width=WIDTH, file=io.StringIO(), markup=False, emoji=False, highlight=False)
    console.print(step_screen(console, assessor, session, assessment, assessment.advice.step))
    return console.export_svg(title=f"nopost: {session.name}", theme=_PAPER, code_format=_SVG, unique_id="nopost")
