"""An assessment: knowledge and observations in, ranked causes, explanation and next step out. A pure function."""

from __future__ import annotations

from dataclasses import dataclass

from nopost.diagnosis.advice.adviser import Advice, Adviser, StepKind
from nopost.diagnosis.advice.available_steps import AvailableSteps
from nopost.diagnosis.belief.evidence import Evidence
from nopost.diagnosis.belief.explanation import (
    Conflict,
    InconsistentAnswers,
    WeightOfEvidence,
    conflict_measure,
    inconsistent_answers,
    weights_of_evidence,
)
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.effort import Person
from nopost.diagnosis.observations import Observations
from nopost.diagnosis.ranking import Ranker
from nopost.diagnosis.rules.effects import Inference
from nopost.knowledge.model import Knowledge

CERTAIN = 0.95
"""A cause is called found from this probability on (judgement)."""
UNLISTED_LEADS = 0.5
CONFLICT_BITS = 3.0
"""An answer is to be checked when without it the others go together better by more than this many bits: measured on planted
wrong answers, 95 of 100 named are the wrong one, and 1 in 100 sessions without one is troubled for nothing."""


@dataclass(frozen=True)
class Diagnosis:
    """What follows from the observations. `ranking`: (cause, probability), falling; `conflict`: answers at odds."""

    ranking: tuple[tuple[str, float], ...]
    unlisted: float
    advice: Advice
    conflict: Conflict | None
    outcome: Inference
    evidence: Evidence
    posterior: Floats
    stopped: bool
    misfits: tuple[InconsistentAnswers, ...] = ()

    @property
    def verdict(self) -> str:
        """open, cause-found, no-listed-cause or shop."""
        if self.ranking and self.ranking[0][1] >= CERTAIN:
            return "cause-found"
        if self.unlisted >= UNLISTED_LEADS:
            return "no-listed-cause"
        return "shop" if self.advice.step.kind is StepKind.LAST_RESORT else "open"


class Diagnostician(Ranker):
    """Everything compiled once for a knowledge base; `assess` has no memory."""

    def __init__(self, knowledge: Knowledge) -> None:
        super().__init__(knowledge)
        self.adviser = Adviser(self.model)

    def assess(self, seen: Observations, person: Person | None = None) -> Diagnosis:
        """Rules, then belief, then advice."""
        found = self.rank(seen)
        offers = AvailableSteps(self.knowledge, seen, found.outcome)
        return Diagnosis(
            ranking=found.ranking,
            unlisted=found.unlisted,
            advice=self.adviser.advise(offers, found.evidence, found.posterior, person or Person()),
            conflict=self._conflict(found.evidence),
            outcome=found.outcome,
            evidence=found.evidence,
            posterior=found.posterior,
            stopped=offers.power_forbidden,
            misfits=inconsistent_answers(self.knowledge, seen),
        )

    def weights(self, assessment: Diagnosis, cause: str) -> list[WeightOfEvidence]:
        """What each piece of evidence did for a cause."""
        return weights_of_evidence(self.model, assessment.evidence, cause)

    def _conflict(self, evidence: Evidence) -> Conflict | None:
        found = conflict_measure(self.model, evidence)
        return found if found is not None and found.bits - found.bits_without > CONFLICT_BITS else None
