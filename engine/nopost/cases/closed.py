"""A session that ended well, as a closed case: what was seen before any fix, what was tried, and what it was."""

from __future__ import annotations

from nopost.cases.session import End, EventKind, Session
from nopost.knowledge.model import Case


def closed_case(session: Session) -> Case | None:
    """The case, or None while it is open or nobody knows what it was. Answers after the first fix are of another machine."""
    end = session.end
    if end is None or end.value != End.STARTS or not end.item:
        return None
    answers: dict[str, str] = {}
    tried: list[tuple[str, str]] = []
    for event in session.events:
        if event.kind is EventKind.ANSWER and not tried:
            answers[event.item] = event.value
        elif event.kind is EventKind.TRIED:
            tried.append((event.item, event.value))
    return Case(session.name, session.name, answers, tuple(tried), {}, {"cause": end.item}, source="a kept session")
