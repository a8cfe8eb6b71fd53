"""`nopost resume`: go on with a session."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from nopost_cli.shared.options import kb_option, kept_session


@click.command("resume", short_help="Go on with a session.")
@click.argument("name", required=False)
@kb_option
def command(name: str | None, kb: Path | None) -> None:
    """Go on with the session NAME, or with the one that was worked on last.

    A session goes on with the knowledge base that it was begun with, unless --kb says another.
    """
    from nopost.diagnosis.diagnose import Diagnostician
    from nopost.diagnosis.history_words import end_sentence
    from nopost.store.sessions import save
    from nopost_cli.dialogue.start import start_dialogue

    knowledge, session = kept_session(name, kb)
    if kb is not None:
        session = replace(session, kb=str(kb.resolve()))
    end = session.history.end
    if end is not None:
        click.echo(f"This session has ended ({end_sentence(knowledge, end.value).rstrip('.')}); it is opened again.")
        session = session.with_history(session.history.undo())
    start_dialogue(Diagnostician(knowledge), session, save)
