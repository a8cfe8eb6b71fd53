"""`nopost sessions`: the sessions that are kept."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nopost.errors import NopostError, SessionError
from nopost_cli.shared.options import json_option, kb_option, kept_session, knowledge_of
from nopost_cli.shared.terminal import clean, make_console, print_json

if TYPE_CHECKING:
    from nopost.knowledge.model import Knowledge
    from nopost.store.sessions import Session


@click.command("sessions", short_help="List the sessions that are kept.")
@json_option
@kb_option
def command(as_json: bool, kb: Path | None) -> None:
    """List the sessions that are kept, the one worked on last first."""
    from rich.table import Table
    from rich.text import Text

    from nopost.store.sessions import load_all, sessions_dir

    knowledge = knowledge_of(kb)
    rows = [_row(name, found, knowledge) for name, found in load_all(knowledge)]
    if kb is None:
        rows = [_by_its_own(row) for row in rows]
    if as_json:
        print_json("sessions", {"folder": str(sessions_dir()), "sessions": rows})
        return
    console = make_console()
    if not rows:
        console.print("There are no sessions yet; begin with: nopost diagnose")
        return
    table = Table(box=None, padding=(0, 1))
    for title in ("Session", "Begun", "Answers", "Fixes", "State"):
        table.add_column(title, overflow="fold")
    for row in rows:
        cells = (row["name"], row["created"][:16].replace("T", " "), str(row["answers"]), str(row["tried"]), row["state"])
        table.add_row(*(Text(clean(cell)) for cell in cells))
    console.print(table)


def _by_its_own(row: dict[str, Any]) -> dict[str, Any]:
    """The row once more, by the knowledge base that the session was begun with, if that is another one and still there."""
    from nopost.store.sessions import recorded_kb

    try:
        if recorded_kb(row["name"]) is None:
            return row
        knowledge, session = kept_session(row["name"], None)
        return _row(row["name"], session, knowledge)
    except NopostError:
        return row


def _row(name: str, found: Session | SessionError, knowledge: Knowledge) -> dict[str, Any]:
    from nopost.diagnosis.history import End, EventKind

    if isinstance(found, SessionError):
        return {"name": name, "created": "", "answers": 0, "tried": 0, "state": f"cannot be read: {found}", "end": None}
    history, end = found.history, found.history.end
    cause = knowledge.causes.get(end.item) if end else None
    works = knowledge.base.words.it_works.removeprefix("it ")
    how = "open" if end is None else works if end.value == End.STARTS else end.value
    return {
        "name": name,
        "created": found.created,
        "answers": len(history.of_kind(EventKind.ANSWER, EventKind.LOOKED_AGAIN, EventKind.CODES, EventKind.READINGS)),
        "tried": len(history.of_kind(EventKind.TRIED)),
        "state": f"{how}: {cause.title}" if cause else how,
        "end": None if end is None else {"how": end.value, "cause": end.item or None},
    }
