"""`nopost resume`: go on with a session."""

from __future__ import annotations

from pathlib import Path

import click

from nopost.advice.assess import Assessor
from nopost.cases.report import end_line
from nopost.cases.store import load, save, session_names
from nopost.errors import SessionError
from nopost_cli.options import kb_option, knowledge_of
from nopost_cli.talk import talk


@click.command("resume", short_help="Go on with a session.")
@click.argument("name", required=False)
@kb_option
def command(name: str | None, kb: Path | None) -> None:
    """Go on with the session NAME, or with the one that was worked on last."""
    names = session_names()
    if name is None and not names:
        raise SessionError("there are no sessions yet; begin with: nopost diagnose")
    knowledge = knowledge_of(kb)
    session = load(name or names[0], knowledge)
    end = session.end
    if end is not None:
        click.echo(f"This session has ended ({end_line(knowledge, end.value).rstrip('.')}); it is opened again.")
    talk(Assessor(knowledge), session.undo() if end else session, save)
