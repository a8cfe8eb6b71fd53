"""The ends of a session on screen, and the command lines that pass it on, take it up again, or tell all of it anew."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.text import Text

from nopost.diagnosis.diagnose import Diagnosis
from nopost.diagnosis.end_view import repaired_view
from nopost.diagnosis.history import Event, EventKind, History
from nopost.diagnosis.step_view import StepView
from nopost.knowledge.model import Knowledge
from nopost.store.sessions import Session
from nopost_cli.dialogue.step_screen import offer_parts
from nopost_cli.shared import screens
from nopost_cli.shared.terminal import clean


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
    for entry, choice in parts.there.items():
        yield from ("--there", f"{entry}={choice}")
    for tool in sorted(parts.at_hand):
        yield from ("--have", tool)
    for event in history.events:
        yield from _event_words(event)


def _event_words(event: Event) -> Iterator[str]:
    """The option that tells an event again. An end is none: it is what comes next."""
    match event.kind:
        case EventKind.ANSWER:
            yield from ("--answer", f"{event.item}={event.value}")
        case EventKind.LOOKED_AGAIN:
            yield from ("--again", f"{event.item}={event.value}")
        case EventKind.CODES:
            yield from ("--codes", event.text)
        case EventKind.READINGS:
            yield from ("--readings", event.text)
        case EventKind.TRIED if event.value != "starts":
            yield from ("--tried", f"{event.item}={event.value}")
        case EventKind.SKIPPED:
            yield from ("--skipped", event.item)


def show_repaired(console: Console, knowledge: Knowledge, session: Session, cause: str, possible: Sequence[str] = ()) -> None:
    """It works again: what was done, what it most probably was, how to be sure, and what to look at before calling it well.

    `cause`: "" when the person left it open; `possible`: what it may have been.
    """
    view = repaired_view(knowledge, session.history, cause, possible)
    console.print(screens.heading(console, knowledge.base.words.works))
    for title in view.before:
        console.print(screens.line("Before", f"{title}. Something else was seen after it."))
    for title in view.done:
        console.print(screens.line("Done", f"{title}."))
    if view.cause is not None:
        console.print(screens.line("Cause", f"Most probably: {view.cause.title}.", style="bold"))
        console.print(screens.line("Proof", view.cause.proof))
        console.print(screens.line("Learn", view.cause.explanation))
    else:
        console.print(screens.line("Cause", "Left open; it may have been any of these.", style="bold"))
        for item in view.possible:
            console.print(screens.line("", f"{item.title}. {item.proof}"))
    console.print(screens.bullet_list(console, "Before you call it well", view.checks))
    if view.reset_settings:
        console.print(screens.bullet_list(console, "Settings that have gone back to their defaults", view.reset_settings))
    _show_report_command(console, session)


def show_cause(console: Console, knowledge: Knowledge, cause: str) -> None:
    """This is the cause."""
    item = knowledge.causes[cause]
    console.print(screens.heading(console, "This is the cause"))
    console.print(screens.line("Cause", item.title, style="bold"))
    console.print(screens.line("Learn", item.explanation))


def show_hand_over(console: Console, knowledge: Knowledge, diagnosis: Diagnosis, view: StepView, session: Session) -> None:
    """Take it to a shop, and tell them this."""
    unlisted = diagnosis.verdict == "no-listed-cause"
    console.print(screens.heading(console, "No listed cause fits" if unlisted else knowledge.base.shop.title))
    console.print(screens.areas(view.areas))
    console.print(screens.ranking(console, view.causes))
    if view.offer is not None:
        console.print(screens.heading(console, "Firmware plan"))
        for part in offer_parts(view.offer):
            console.print(part)
    console.print(screens.bullet_list(console, "Tell and bring", knowledge.base.shop.hand_over))
    _show_report_command(console, session)


def session_command(verb: str, session: Session) -> str:
    """The command that takes the session up again, with its knowledge base when it is not the shipped one."""
    return shlex.join(["nopost", verb, session.name, *(("--kb", session.kb) if session.kb else ())])


def _show_report_command(console: Console, session: Session) -> None:
    console.print(Text(clean(f"\nTo pass it on: {session_command('report', session)}")), soft_wrap=True)
