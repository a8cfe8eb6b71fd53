"""`nopost report`: a session written down."""

from __future__ import annotations

from pathlib import Path

import click

from nopost.advice.assess import Assessor
from nopost.cases.report import html_report, markdown_report, report_data
from nopost.cases.session import observations
from nopost_cli.envelope import print_json
from nopost_cli.kept import kept_session
from nopost_cli.options import kb_option
from nopost_cli.terminal import clean


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
    assessor = Assessor(knowledge)
    assessment = assessor.assess(observations(session, knowledge), session.person)
    if form == "json":
        print_json("report", report_data(knowledge, session, assessment))
    elif form == "svg":
        from nopost_cli.picture import step_picture

        click.echo(step_picture(assessor, session, assessment), nl=False)
    else:
        write = markdown_report if form == "md" else html_report
        click.echo(clean(write(knowledge, session, assessment)), nl=False)
