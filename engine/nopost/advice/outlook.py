"""What a question would settle: for each answer how likely it is, and which causes would lead then."""

from __future__ import annotations

from dataclasses import dataclass

from nopost.advice.assess import Assessment
from nopost.belief.model import BeliefModel


@dataclass(frozen=True, slots=True)
class Prospect:
    """One answer: its probability, and the leading causes after it as (cause, probability)."""

    answer: str
    probability: float
    leading: tuple[tuple[str, float], ...]


def outlook(model: BeliefModel, assessment: Assessment, finding: str, count: int = 2) -> list[Prospect]:
    """The prospects of each answer, the likeliest first."""
    table = model.predict(finding, assessment.evidence)
    result = []
    for k, answer in enumerate(model.knowledge.findings[finding].answer_ids):
        joint = assessment.posterior * table[:, k]
        total = float(joint.sum())
        marginals = model.h.marginals(joint / total)
        order = sorted(range(len(marginals)), key=lambda c: (-marginals[c], model.h.causes[c]))[:count]
        result.append(Prospect(answer, total, tuple((model.h.causes[c], float(marginals[c])) for c in order)))
    return sorted(result, key=lambda p: -p.probability)
