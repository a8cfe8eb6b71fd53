"""The command line that brings a session back to where it was, for when it could not be kept."""

from __future__ import annotations

import shlex
from collections.abc import Iterator

from nopost.diagnosis.history import Event, EventKind, History


def again_command(history: History, kb: str = "", currency: str = "") -> str:
    """`nopost diagnose` with all that the history knows; only the order of answers and fixes among each other is not in it.

    `kb`: folder of the knowledge base when it is not the shipped one.
    """
    return shlex.join(["nopost", "diagnose", "--ask", *_words(history, kb, currency)])


def _words(history: History, kb: str, currency: str) -> Iterator[str]:
    parts = history.parts
    for name, value in parts.named().items():
        yield from (f"--{name.replace('_', '-')}", value)
    if kb:
        yield from ("--kb", kb)
    if currency:
        yield from ("--currency", currency)
    if parts.minute_rate is not None:
        yield from ("--per-minute", f"{parts.minute_rate!r}")
    for tool in sorted(parts.at_hand):
        yield from ("--have", tool)
    for event in history.events:
        yield from _event_words(event)


def _event_words(event: Event) -> Iterator[str]:
    """The option that tells an event again. An end is none: it is what comes next."""
    match event.kind:
        case EventKind.ANSWER:
            yield from ("--answer", f"{event.item}={event.value}")
        case EventKind.CODES:
            yield from ("--codes", event.text)
        case EventKind.READINGS:
            yield from ("--readings", event.text)
        case EventKind.TRIED if event.value != "starts":
            yield from ("--tried", f"{event.item}={event.value}")
        case EventKind.SKIPPED:
            yield from ("--skipped", event.item)
