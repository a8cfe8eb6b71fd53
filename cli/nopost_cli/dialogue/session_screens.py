"""A session on screen: the step that comes next, the pages beside it, the ends, and the assessment of given answers.

`step_screen` is what the dialogue shows and a picture keeps; help and why are pages beside it; `show_repaired`,
`show_cause` and `show_hand_over` are the ends; `show_assessment` prints causes and next steps without asking.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping

from rich.console import Console, Group, RenderableType
from rich.text import Text

from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.effort import minute_rate
from nopost.diagnosis.firmware_offer import PlanOffer, look_command, plan_offer, record_words
from nopost.diagnosis.history import Event, EventKind, Session, possible_answers
from nopost.diagnosis.predictions import cause_given_repair_success, predicted_answers
from nopost.diagnosis.step_view import step_title
from nopost.firmware.route.task import Way
from nopost.knowledge.model import UNKNOWN, Knowledge, Words
from nopost_cli.dialogue.plan_screen import offer_parts
from nopost_cli.shared import screens
from nopost_cli.shared.prompts import Choice
from nopost_cli.shared.terminal import clean, make_console


def show_repaired(console: Console, knowledge: Knowledge, cause: str, session: Session) -> None:
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


def show_hand_over(console: Console, knowledge: Knowledge, assessment: Diagnosis, session: Session) -> None:
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


KEYS = {
    "?": "help",
    "s": "skip: can't tell or do",
    "u": "undo",
    "w": "why",
    "c": "causes",
    "o": "other steps",
    "t": "tell something else",
    "q": "leave and keep",
}
PLAN_KEY = {"p": "firmware plan in full"}
"""One more key while there is a plan."""
NOTHING_YET = "Nothing is known yet. These are the most common causes; each answer ranks them anew."
SHOP = (Choice("shop", "Take it to a shop and show what to tell them"),)


def tried_choices(words: Words) -> tuple[Choice, ...]:
    """What can come of a fix."""
    return (
        Choice("starts", f"{words.works} now"),
        Choice("same", "Nothing has changed"),
        Choice("changed", f"{words.fails}, but something else is seen now"),
        Choice("cannot", "I cannot do this, or do not have what it needs"),
    )


def choices_of(knowledge: Knowledge, step: Step) -> tuple[Choice, ...]:
    """What can be chosen for a step."""
    if step.kind is StepKind.DO:
        return tried_choices(knowledge.base.words)
    if step.kind is StepKind.LAST_RESORT:
        return SHOP
    finding = knowledge.findings[step.id]
    return tuple(Choice(a, finding.answer_text(a)) for a in possible_answers(finding) if a != UNKNOWN)


def keys_of(offer: PlanOffer | None) -> dict[str, str]:
    """The keys that can be used now."""
    return {**KEYS, **PLAN_KEY} if offer is not None and offer.plan is not None else KEYS


def record_line(knowledge: Knowledge, session: Session, step: Step) -> Iterator[RenderableType]:
    """What the board's record says to the step."""
    if said := record_words(knowledge, session, step):
        yield screens.line("Board", said, style="bold")
        if told := look_command(knowledge, session, step):
            yield screens.line("", told)


def step_screen(
    console: Console,
    assessor: Diagnostician,
    session: Session,
    assessment: Diagnosis,
    step: Step,
    told: frozenset[str] = frozenset(),
) -> RenderableType:
    """Ranking, cautions (in full unless `told` before), the step with why and how, the choices and the keys."""
    knowledge = assessor.knowledge
    count = sum(1 for event in session.events if event.kind is not EventKind.END)
    prospects = predicted_answers(assessor.model, assessment, step.id) if step.kind is StepKind.ASK else []
    offer = plan_offer(knowledge, session, assessment)
    why = screens.why_now(
        knowledge, step, prospects, assessment.advice.expected_cost_of_repair_now, minute_rate(knowledge, session.person)
    )
    return Group(
        screens.heading(console, f"{session.name}, step {count + 1}"),
        *([] if session.events or session.facts else [Text(NOTHING_YET, style="dim")]),
        screens.ranking(console, knowledge, assessment),
        Text(),
        *screens.doubts(knowledge, assessment),
        *screens.cautions(knowledge, assessment, step, told),
        *screens.step_body(knowledge, step, session.person, session.currency, why),
        *record_line(knowledge, session, step),
        *offer_parts(offer),
        screens.numbered([choice.text for choice in choices_of(knowledge, step)]),
        screens.packed([f"{key} {meaning}" for key, meaning in keys_of(offer).items()], console.width),
    )


MENDS_SHOWN = 4


def help_page(
    console: Console, assessor: Diagnostician, assessment: Diagnosis, step: Step, keys: Mapping[str, str] = KEYS
) -> RenderableType:
    """What each answer would point to, or what a fix mends, and the keys."""
    parts: list[RenderableType] = [screens.heading(console, "Help")]
    if step.kind is StepKind.ASK:
        parts += _answers(assessor, assessment, step)
    elif step.kind is StepKind.DO:
        parts += _mends(assessor.knowledge, assessment, step)
    parts.append(Text("\nType the number of a choice or its first letters, then Enter. One key does the rest:"))
    parts += [screens.line(f"  {key}", meaning) for key, meaning in keys.items()]
    return Group(*parts)


def _answers(assessor: Diagnostician, assessment: Diagnosis, step: Step) -> Iterator[RenderableType]:
    knowledge = assessor.knowledge
    finding = knowledge.findings[step.id]
    if finding.look:
        yield screens.line("Look", finding.look)
    for prospect in predicted_answers(assessor.model, assessment, step.id):
        leading = "; ".join(f"{knowledge.causes[c].title} ({screens.percent(p)})" for c, p in prospect.leading)
        yield screens.line("If", f"{finding.answer_text(prospect.answer)}: {leading}")


def _mends(knowledge: Knowledge, assessment: Diagnosis, step: Step) -> Iterator[RenderableType]:
    yield Text(clean(f"If {knowledge.base.words.it_works} after this, it was most probably:"))
    for cause, share in cause_given_repair_success(knowledge, assessment, step.id)[:MENDS_SHOWN]:
        yield screens.line(screens.percent(share), knowledge.causes[cause].title)


def why_page(console: Console, assessor: Diagnostician, assessment: Diagnosis) -> RenderableType:
    """Weights of evidence for the leading causes, and the rules that say something."""
    knowledge = assessor.knowledge
    columns = []
    for cause, _ in assessment.ranking[: screens.LEADING]:
        weights = [(evidence_words(knowledge, w.kind, w.name, w.answer), w.decibans) for w in assessor.weights(assessment, cause)]
        columns.append((knowledge.causes[cause].title, weights))
    return Group(screens.evidence_table(console, columns), screens.rule_chain(console, knowledge, assessment))


def evidence_words(knowledge: Knowledge, what: str, name: str, answer: str) -> str:
    """One piece of evidence in words."""
    if what == "answer":
        return f"{knowledge.findings[name].title}: {knowledge.findings[name].answer_text(answer)}"
    if what == "tried":
        return f"Did not help: {knowledge.actions[name].title}"
    if what == "rule":
        return f"Rule: {knowledge.rules[name].title}"
    return "Causes ruled out"


def event_words(knowledge: Knowledge, event: Event) -> str:
    """An event in words, for 'taken back'."""
    if event.kind is EventKind.ANSWER:
        return evidence_words(knowledge, "answer", event.item, event.value)
    if event.kind in (EventKind.TRIED, EventKind.SKIPPED):
        return knowledge.actions[event.item].title
    return "the end"


CAUSES_SHOWN = 6


def show_assessment(assessor: Diagnostician, session: Session, assessment: Diagnosis) -> None:
    """Print it."""
    knowledge = assessor.knowledge
    console = make_console()
    step = assessment.advice.step
    console.print(screens.heading(console, "Causes"))
    console.print(screens.ranking(console, knowledge, assessment, CAUSES_SHOWN))
    for doubt in screens.doubts(knowledge, assessment):
        console.print(doubt)
    if assessment.outcome.firings:
        console.print(screens.rule_chain(console, knowledge, assessment))
    console.print(screens.heading(console, "Next step"))
    for part in screens.cautions(knowledge, assessment, step):
        console.print(part)
    prospects = predicted_answers(assessor.model, assessment, step.id) if step.kind is StepKind.ASK else []
    why = screens.why_now(
        knowledge, step, prospects, assessment.advice.expected_cost_of_repair_now, minute_rate(knowledge, session.person)
    )
    for part in screens.step_body(knowledge, step, session.person, session.currency, why):
        console.print(part)
    for part in record_line(knowledge, session, step):
        console.print(part)
    show_offer(console, plan_offer(knowledge, session, assessment))
    if assessment.advice.plan:
        console.print(screens.heading(console, "If nothing more is asked: fixes in this order"))
        fixes = [f"{knowledge.actions[a].title}{_reached(share)}" for a, share in assessment.advice.plan]
        console.print(screens.ordered(fixes))
    if assessment.advice.others:
        console.print(screens.heading(console, "Other good steps"))
        console.print(screens.ordered([step_title(knowledge, other) for other in assessment.advice.others[:3]]))


def _reached(share: float) -> str:
    """How often one gets as far as this fix in the plan."""
    return "" if share > 0.995 else f" (in {share * 100:.0f} of 100 such cases)"
