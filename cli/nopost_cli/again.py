"""The command line that brings a session back to where it was, for when it could not be kept."""

from __future__ import annotations

import shlex
from collections.abc import Iterator

from nopost.diagnosis.history import EventKind, Session

OF_EVENT = {EventKind.ANSWER: "answer", EventKind.TRIED: "tried", EventKind.SKIPPED: "skipped"}
"""Events that can be given on the command line, and their options. An end is none: it is what comes next."""


def again_command(session: Session) -> str:
    """`nopost diagnose` with all that the session knows; only the order of answers and fixes among each other is not in it."""
    return shlex.join(["nopost", "diagnose", "--ask", *_words(session)])


def _words(session: Session) -> Iterator[str]:
    for name, value in session.records.items():
        yield from (f"--{name.replace('_', '-')}", value)
    if session.currency:
        yield from ("--currency", session.currency)
    if session.person.minute_rate is not None:
        yield from ("--per-minute", f"{session.person.minute_rate!r}")
    for tool in sorted(session.person.at_hand):
        yield from ("--have", tool)
    for event in session.events:
        if event.kind in OF_EVENT and event.value != "starts":
            yield from (f"--{OF_EVENT[event.kind]}", f"{event.item}={event.value}" if event.value else event.item)
