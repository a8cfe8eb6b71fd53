"""After an exercise: the steps beside the advice's, where effort was lost, which evidence was overlooked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.belief.posterior import UNINFORMATIVE_ANSWERS
from nopost.diagnosis.history import EventKind
from nopost.evaluation.simulated_machine import SimulatedMachine, hypothesis_of
from nopost.knowledge.model import UNKNOWN
from nopost.training.exercise import Attempt, Exercise, TakenStep

MOST_TOLD = 3
"""So many pieces of evidence are named."""
LEAST_DECIBANS = 3.0
"""Decibans from which an answer is worth naming: a factor of two on the odds (judgement)."""


@dataclass(frozen=True, slots=True)
class Clue:
    """An answer and how strongly it points to what was wrong, in decibans; `step`: when it was seen, 0 by the owner, -1 never."""

    finding: str
    answer: str
    decibans: float
    step: int


@dataclass(frozen=True, slots=True)
class Debrief:
    """`losses`: steps whose choice lost most, with their number; `quality`: 0 to 5 for the schedule."""

    spent: float
    model_spent: float
    losses: tuple[tuple[int, TakenStep], ...]
    clues: tuple[Clue, ...]
    overlooked: tuple[Clue, ...]
    slips: int
    named: bool
    quality: int


def debrief(exercise: Exercise, done: Attempt, named: str) -> Debrief:
    """What is to be said of an attempt that ended; `named`: the cause that the apprentice named, or ""."""
    clues = sorted(_clues(done), key=lambda clue: -clue.decibans)
    losses = sorted(enumerate(done.taken, 1), key=lambda pair: -pair[1].loss)
    slips = sum(bool(step.against) for step in done.taken)
    right = named in exercise.causes
    return Debrief(
        spent=done.spent,
        model_spent=exercise.model.spent,
        losses=tuple(pair for pair in losses[:MOST_TOLD] if pair[1].loss > 0.01 * max(exercise.model.spent, 1.0)),
        clues=tuple(clue for clue in clues if clue.step >= 0)[:MOST_TOLD],
        overlooked=tuple(clue for clue in clues if clue.step < 0)[:MOST_TOLD],
        slips=slips,
        named=right,
        quality=quality(exercise, done, right, slips),
    )


def quality(exercise: Exercise, done: Attempt, named: bool, slips: int) -> int:
    """0 to 5, as the schedule wants it (5 without fault, below 3 to be learned again): effort first, then the cause, care and
    help. Its bounds are judgement."""
    share = exercise.model.spent / done.spent if done.spent else 1.0
    base = 5 if share >= 0.85 else 4 if share >= 0.6 else 3 if share >= 0.35 else 2
    if done.ended != exercise.model.ended:
        base = min(base, 2 if done.ended == "shop" else 5)
    return max(0, base - (not named) - slips - min(done.hints, 2))


def _clues(done: Attempt) -> Iterator[Clue]:
    """What the machine shows for its true causes against what dead machines show on the whole."""
    seen = {event.item: event.value for event in done.history.events if event.kind is EventKind.ANSWER}
    steps = {step.id: number for number, step in enumerate(done.taken, 1) if step.kind is StepKind.ASK}
    for finding in done.knowledge.findings.values():
        if not finding.question or finding.id not in done.diagnostician.model.informative_findings:
            continue
        told = finding.id in seen
        answer = seen[finding.id] if told else _untouched_answer(done, finding.id)
        decibans = _weight_of_evidence(done, finding.id, answer)
        if decibans >= LEAST_DECIBANS:
            yield Clue(finding.id, answer, decibans, steps.get(finding.id, 0) if told else -1)


def _untouched_answer(done: Attempt, finding: str) -> str:
    """What the untouched machine shows; nothing when there is nothing to see."""
    fresh = SimulatedMachine(done.diagnostician.model, done.machine.causes, done.machine.seed)
    return fresh.true_answer(finding) if fresh.can_be_seen(finding) else UNKNOWN


def _weight_of_evidence(done: Attempt, finding: str, answer: str) -> float:
    """10 log10 of P(answer | the true causes) over P(answer | any dead machine) (Good)."""
    if answer in UNINFORMATIVE_ANSWERS:
        return 0.0
    model = done.diagnostician.model
    column = model.reported_answer_tables[finding][:, model.answer_index[finding][answer]]
    there = hypothesis_of(model, done.machine.causes)
    return float(10 * np.log10(column[there] / (np.exp(model.hypotheses.log_prior) @ column)))
