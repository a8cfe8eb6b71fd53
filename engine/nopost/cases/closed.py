"""A session that ended well, as a closed case: what was seen before any fix, what was tried, and what it was."""

from __future__ import annotations

from nopost.cases.session import End, EventKind, Session
from nopost.knowledge.model import Case


def before_any_fix(session: Session) -> dict[str, str]:
    """Finding -> answer, as given before the first fix: what is seen later is another machine."""
    answers: dict[str, str] = {}
    for event in session.events:
        if event.kind is EventKind.TRIED:
            break
        if event.kind is EventKind.ANSWER:
            answers[event.item] = event.value
    return answers


def fixes_tried(session: Session) -> tuple[tuple[str, str], ...]:
    """(action, outcome) in order."""
    return tuple((event.item, event.value) for event in session.events if event.kind is EventKind.TRIED)


def closed_case(session: Session) -> Case | None:
    """The case, or None while it is open or nobody knows what it was."""
    end = session.end
    if end is None or end.value != End.STARTS or not end.item:
        return None
    tried = fixes_tried(session)
    return Case(session.name, session.name, before_any_fix(session), tried, {}, {"cause": end.item}, source="a kept session")
