"""The screen of one step, as the dialogue shows it and as a picture keeps it."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Console, Group, RenderableType
from rich.text import Text

from nopost.advice.assess import Assessment, Assessor
from nopost.advice.effort import rate
from nopost.advice.outlook import outlook
from nopost.advice.step import Step, StepKind
from nopost.cases.plan_offer import PlanOffer, plan_offer
from nopost.cases.record_words import look_command, record_words
from nopost.cases.session import EventKind, Session, possible_answers
from nopost.knowledge.model import UNKNOWN, Knowledge, Words
from nopost_cli import screens
from nopost_cli.plan_screen import offer_parts
from nopost_cli.typed import Choice

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
    if step.kind is StepKind.SHOP:
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
    assessor: Assessor,
    session: Session,
    assessment: Assessment,
    step: Step,
    told: frozenset[str] = frozenset(),
) -> RenderableType:
    """Ranking, cautions (in full unless `told` before), the step with why and how, the choices and the keys."""
    knowledge = assessor.knowledge
    count = sum(1 for event in session.events if event.kind is not EventKind.END)
    prospects = outlook(assessor.model, assessment, step.id) if step.kind is StepKind.ASK else []
    offer = plan_offer(knowledge, session, assessment)
    why = screens.why_now(knowledge, step, prospects, assessment.advice.now, rate(knowledge, session.person))
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
