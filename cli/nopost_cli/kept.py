"""A kept session with the knowledge base that it goes by."""

from __future__ import annotations

from pathlib import Path

from nopost.cases.session import Session
from nopost.cases.store import load, recorded_kb, session_names
from nopost.errors import SessionError
from nopost.knowledge.model import Knowledge
from nopost_cli.options import knowledge_of


def kept_session(name: str | None, kb: Path | None) -> tuple[Knowledge, Session]:
    """The session of this name, or the one worked on last; with this knowledge base, or the one it was begun with.

    Raises SessionError, UnknownNameError or KnowledgeError.
    """
    if name is None:
        name = next(iter(session_names()), None)
    if name is None:
        raise SessionError("there are no sessions yet; begin with: nopost diagnose")
    told = None if kb else recorded_kb(name)
    if told and not (told / "base.yaml").is_file():
        raise SessionError(f"{told}: the knowledge base that {name!r} was begun with is not there; give its place with --kb DIR")
    knowledge = knowledge_of(kb or told)
    return knowledge, load(name, knowledge)
