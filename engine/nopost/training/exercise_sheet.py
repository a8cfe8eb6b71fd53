"""Exercises on paper: what was seen so far on one side, what to make of it on the other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.belief.evidence import UNINFORMATIVE_ANSWERS
from nopost.diagnosis.belief.explanation import weights_of_evidence
from nopost.diagnosis.cautions import step_hazards
from nopost.diagnosis.history import EventKind
from nopost.diagnosis.history_words import outcome_words
from nopost.diagnosis.step_view import area_views, step_title
from nopost.knowledge.model import Knowledge
from nopost.render.documents import html_document, markdown_document
from nopost.training.exercise import Attempt, Exercise, begin_attempt

LOOKS = 4
"""So many of the looks that the advice takes stand on the sheet."""
RANKED = 5
QUESTIONS = (
    "Which three causes are the likeliest? Put them in order.",
    "Which look or which work comes next, and why this one?",
    "What must be done, or left alone, so that nobody is hurt and nothing breaks?",
    "What would tell the first two causes apart?",
)


@dataclass(frozen=True, slots=True)
class ExerciseSheet:
    """One exercise on paper: (title, lines) blocks of the apprentice's side and of the trainer's."""

    number: int
    seen: tuple[str, ...]
    answers: tuple[tuple[str, tuple[str, ...]], ...]


def sheet_of(exercise: Exercise, number: int) -> ExerciseSheet:
    """The owner's words and the first looks, then the ranking, the next step, its cautions and the cause."""
    attempt = _looked(exercise)
    knowledge = attempt.knowledge
    now = attempt.diagnosis()
    step = now.advice.step
    seen = [
        _seen(knowledge, e.item, e.value)
        for e in attempt.history.events
        if e.kind is EventKind.ANSWER and e.value not in UNINFORMATIVE_ANSWERS
    ]
    ranking = [f"{knowledge.causes[c].title} ({100 * p:.0f} %)" for c, p in now.remaining[:RANKED]]
    areas = [f"{area.title} ({100 * area.probability:.0f} %)" for area in area_views(knowledge, now)[:RANKED]]
    blocks = [
        ("Where the trouble is", tuple(areas)),
        ("Likeliest causes", tuple(ranking)),
        ("Next", (step_title(knowledge, step), *_why(attempt))),
        ("Cautions", tuple(_cautions(knowledge, step, now.inference.cautions)) or ("None beyond the usual care.",)),
        ("What it was", tuple(_cause(knowledge, exercise.causes))),
        ("The advice's way", tuple(_way(knowledge, exercise))),
    ]
    return ExerciseSheet(number, tuple(seen), tuple(blocks))


def _looked(exercise: Exercise) -> Attempt:
    """The machine after the first looks of the advice, before any work."""
    attempt = begin_attempt(exercise.attempt.diagnostician, exercise.causes, exercise.attempt.machine.seed)
    for _ in range(LOOKS):
        step = attempt.diagnosis().advice.step
        if step.kind is not StepKind.ASK:
            break
        attempt = attempt.take(step.kind, step.id)
    return attempt


def _seen(knowledge: Knowledge, finding: str, answer: str) -> str:
    item = knowledge.findings[finding]
    return f"{item.question or item.title} {item.answer_text(answer)}"


def _why(attempt: Attempt) -> Iterator[str]:
    """The strongest evidence for the leading cause."""
    now, knowledge = attempt.diagnosis(), attempt.knowledge
    leading = now.remaining[0][0]
    seen = now.seen
    for weight in sorted(weights_of_evidence(attempt.diagnostician.model, now.evidence, leading), key=lambda w: -w.decibans)[:3]:
        if weight.kind == "answer" and weight.decibans > 1 and weight.name in {r.finding for r in seen.reports}:
            text = _seen(knowledge, weight.name, weight.answer)
            yield f"For “{knowledge.causes[leading].title}” speaks most: {text} ({weight.decibans:+.0f} decibans)"


def _cautions(knowledge: Knowledge, step: Step, raised: Iterable[str]) -> Iterator[str]:
    for name in dict.fromkeys((*raised, *step_hazards(knowledge, step.kind, step.id))):
        yield f"{knowledge.hazards[name].title}: {knowledge.hazards[name].caution}"


def _cause(knowledge: Knowledge, causes: Sequence[str]) -> Iterator[str]:
    for name in causes:
        cause = knowledge.causes[name]
        yield f"{cause.title}. {cause.explanation} {f'Proof: {cause.proof}' if cause.proof else ''}".strip()


def _way(knowledge: Knowledge, exercise: Exercise) -> Iterator[str]:
    for number, taken in enumerate(exercise.model.taken, 1):
        if taken.kind is StepKind.ASK:
            yield f"{number}. {_seen(knowledge, taken.id, taken.result)}"
        else:
            title = knowledge.base.shop.title if taken.kind is StepKind.LAST_RESORT else knowledge.actions[taken.id].title
            yield f"{number}. {title}" + (f": {outcome_words(knowledge, taken.result)}" if taken.kind is StepKind.DO else "")


def markdown_sheets(knowledge: Knowledge, sheets: Sequence[ExerciseSheet], seed: int, answers: bool) -> str:
    """All exercises, then, if wanted, all answers."""
    return markdown_document("exercise_sheets.md", **_values(knowledge, sheets, seed, answers))


def html_sheets(knowledge: Knowledge, sheets: Sequence[ExerciseSheet], seed: int, answers: bool) -> str:
    """The same as one page; each exercise and each answer begins a new sheet of paper."""
    return html_document("exercise_sheets.html", **_values(knowledge, sheets, seed, answers))


def _values(knowledge: Knowledge, sheets: Sequence[ExerciseSheet], seed: int, answers: bool) -> dict[str, Any]:
    """What both templates are given."""
    return {"title": _title(knowledge, seed), "sheets": sheets, "questions": QUESTIONS, "answers": answers}


def _title(knowledge: Knowledge, seed: int) -> str:
    return f"{knowledge.base.name}: exercises, edition {knowledge.base.edition}, seed {seed}"
