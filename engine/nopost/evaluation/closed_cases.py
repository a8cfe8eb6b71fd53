"""Closed cases: those that say what it turned out to be. Made of sessions that ended well, and counted.

A session that ended well becomes a case with what was seen before any fix, what was tried, and what it was. Closed cases are
counted by cause, by what each showed, and by which fixes mended it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import UNINFORMATIVE_ANSWERS, BeliefModel
from nopost.diagnosis.history import End, EventKind, History
from nopost.diagnosis.replay import event_answers
from nopost.knowledge.model import Case, Knowledge


def before_any_fix(history: History, knowledge: Knowledge) -> dict[str, str]:
    """Finding -> answer, as told before the first fix: what is seen later is another machine."""
    answers: dict[str, str] = {}
    for event in history.events:
        if event.kind is EventKind.TRIED:
            break
        answers |= event_answers(event, knowledge)
    return answers


def fixes_tried(history: History) -> tuple[tuple[str, str], ...]:
    """(action, outcome) in order."""
    return tuple((event.item, event.value) for event in history.of_kind(EventKind.TRIED))


def closed_case(name: str, history: History, knowledge: Knowledge) -> Case | None:
    """The case, or None while it is open or nobody knows what it was."""
    end = history.end
    if end is None or end.value != End.STARTS or not end.item:
        return None
    seen, tried = before_any_fix(history, knowledge), fixes_tried(history)
    return Case(name, name, seen, tried, {}, {"cause": end.item}, source="a kept session")


@dataclass
class CaseCounts:
    """Of each cause: cases; of (cause, finding): how often each answer was true; of (cause, action): (mended, left)."""

    causes: Counter[str] = field(default_factory=Counter)
    seen: dict[tuple[str, str], Floats] = field(default_factory=dict)
    reports: Counter[tuple[str, str]] = field(default_factory=Counter)
    fixes: dict[tuple[str, str], list[int]] = field(default_factory=lambda: defaultdict(lambda: [0, 0]))
    open_cases: int = 0

    @property
    def cases(self) -> int:
        """Closed cases that were counted."""
        return sum(self.causes.values())


def count_cases(model: BeliefModel, cases: Iterable[Case]) -> CaseCounts:
    """Count closed cases: those that say what it turned out to be. An open one only adds to `open_cases`."""
    counts = CaseCounts()
    for case in cases:
        cause = case.expect.get("cause", "")
        if cause not in model.cause_index:
            counts.open_cases += 1
            continue
        counts.causes[cause] += 1
        for finding, answer in case.answers.items():
            _count_answer(model, counts, cause, finding, answer)
        for action, outcome in case.tried:
            if outcome in ("starts", "same"):
                counts.fixes[cause, action][outcome == "same"] += 1
    return counts


def _count_answer(model: BeliefModel, counts: CaseCounts, cause: str, finding: str, answer: str) -> None:
    """One report, shared out over the true answers that may stand behind it: P(true | report, cause)."""
    if answer in UNINFORMATIVE_ANSWERS or model.observation_models[finding].target != finding:
        return  # what an instrument shows belongs to its own table, not to the cause
    matrix = model.observation_models[finding].matrix
    share = (
        model.answer_likelihood(finding).single_cause_table()[model.cause_index[cause]]
        * matrix[:, model.answer_index[finding][answer]]
    )
    share = share / share.sum() if share.sum() > 0 else np.eye(len(share))[model.answer_index[finding][answer]]
    counts.seen[cause, finding] = counts.seen.get((cause, finding), 0.0) + share
    counts.reports[cause, finding] += 1
