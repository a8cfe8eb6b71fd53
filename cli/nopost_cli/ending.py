"""The ends of a session on screen."""

from __future__ import annotations

import shlex
from collections.abc import Iterator

from rich.console import Console
from rich.text import Text

from nopost.advice.assess import Assessment
from nopost.cases.plan_offer import PlanOffer, plan_offer
from nopost.cases.session import EventKind, Session
from nopost.firmware.route.state import Way
from nopost.knowledge.model import Knowledge
from nopost_cli import screens
from nopost_cli.plan_screen import offer_parts
from nopost_cli.terminal import clean


def show_start(console: Console, knowledge: Knowledge, cause: str, session: Session) -> None:
    """It works again: which cause it most probably was, how to be sure, and what to look at before calling it well."""
    item = knowledge.causes[cause]
    console.print(screens.heading(console, knowledge.base.words.works))
    console.print(screens.line("Cause", f"Most probably: {item.title}.", style="bold"))
    console.print(screens.line("Proof", item.proof))
    console.print(screens.line("Learn", item.explanation))
    checks = (*_expected(knowledge, session), *knowledge.base.proof)
    console.print(screens.bullet_list(console, "Before you call it well", checks))
    reset = any(e.kind is EventKind.TRIED and knowledge.actions[e.item].resets for e in session.events)
    if reset and knowledge.base.reset_settings:
        title = "Settings that have gone back to their defaults"
        console.print(screens.bullet_list(console, title, knowledge.base.reset_settings))
    _report_line(console, session)


def _expected(knowledge: Knowledge, session: Session) -> Iterator[str]:
    """The parts as recorded; another release than the recorded one is there once firmware was written."""
    did = (event for event in session.events if event.kind is EventKind.TRIED and event.value == "starts")
    routes = [knowledge.actions[event.item].route for event in did]
    written = any(route and Way.SWAP not in route for route in routes)
    for part, value in session.machine.items():
        if part == "firmware" and written:
            yield f"Setup shows the release that was written, and no longer {value}."
        else:
            yield f"As recorded: {part} is {value}."


def show_cause(console: Console, knowledge: Knowledge, cause: str) -> None:
    """This is the cause."""
    item = knowledge.causes[cause]
    console.print(screens.heading(console, "This is the cause"))
    console.print(screens.line("Cause", item.title, style="bold"))
    console.print(screens.line("Learn", item.explanation))


def show_hand_over(console: Console, knowledge: Knowledge, assessment: Assessment, session: Session) -> None:
    """Take it to a shop, and tell them this."""
    unlisted = assessment.verdict == "no-listed-cause"
    console.print(screens.heading(console, "No listed cause fits" if unlisted else knowledge.base.shop.title))
    console.print(screens.ranking(console, knowledge, assessment))
    show_offer(console, plan_offer(knowledge, session, assessment))
    console.print(screens.bullet_list(console, "Tell and bring", knowledge.base.shop.hand_over))
    _report_line(console, session)


def show_offer(console: Console, offer: PlanOffer | None) -> None:
    """The firmware plan under a heading of its own."""
    if offer is not None:
        console.print(screens.heading(console, "Firmware plan"))
        for part in offer_parts(offer):
            console.print(part)


def session_command(verb: str, session: Session) -> str:
    """The command that takes the session up again, with its knowledge base when it is not the shipped one."""
    kb = session.records.get("kb")
    return shlex.join(["nopost", verb, session.name, *(("--kb", kb) if kb else ())])


def _report_line(console: Console, session: Session) -> None:
    console.print(Text(clean(f"\nTo pass it on: {session_command('report', session)}")), soft_wrap=True)
