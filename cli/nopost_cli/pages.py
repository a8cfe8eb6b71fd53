"""Pages beside the step: help, why, and the words for a piece of evidence."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rich.console import Console, Group, RenderableType
from rich.text import Text

from nopost.advice.assess import Assessment, Assessor
from nopost.advice.mended import mended_by
from nopost.advice.outlook import outlook
from nopost.advice.step import Step, StepKind
from nopost.cases.session import Event, EventKind
from nopost.knowledge.model import Knowledge
from nopost_cli import screens, words
from nopost_cli.step_screen import KEYS
from nopost_cli.terminal import clean

MENDS_SHOWN = 4


def help_page(
    console: Console, assessor: Assessor, assessment: Assessment, step: Step, keys: Mapping[str, str] = KEYS
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


def _answers(assessor: Assessor, assessment: Assessment, step: Step) -> Iterator[RenderableType]:
    knowledge = assessor.knowledge
    finding = knowledge.findings[step.id]
    if finding.look:
        yield screens.line("Look", finding.look)
    for prospect in outlook(assessor.model, assessment, step.id):
        leading = "; ".join(f"{knowledge.causes[c].title} ({words.percent(p)})" for c, p in prospect.leading)
        yield screens.line("If", f"{finding.answer_text(prospect.answer)}: {leading}")


def _mends(knowledge: Knowledge, assessment: Assessment, step: Step) -> Iterator[RenderableType]:
    yield Text(clean(f"If {knowledge.base.words.it_works} after this, it was most probably:"))
    for cause, share in mended_by(knowledge, assessment, step.id)[:MENDS_SHOWN]:
        yield screens.line(words.percent(share), knowledge.causes[cause].title)


def why_page(console: Console, assessor: Assessor, assessment: Assessment) -> RenderableType:
    """Weights of evidence for the leading causes, and the rules that say something."""
    knowledge = assessor.knowledge
    columns = []
    for cause, _ in assessment.ranking[: screens.LEADING]:
        weights = [(piece(knowledge, w.what, w.name, w.answer), w.decibans) for w in assessor.weights(assessment, cause)]
        columns.append((knowledge.causes[cause].title, weights))
    return Group(screens.evidence_table(console, columns), screens.rule_chain(console, knowledge, assessment))


def piece(knowledge: Knowledge, what: str, name: str, answer: str) -> str:
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
        return piece(knowledge, "answer", event.item, event.value)
    if event.kind in (EventKind.TRIED, EventKind.SKIPPED):
        return knowledge.actions[event.item].title
    return "the end"
