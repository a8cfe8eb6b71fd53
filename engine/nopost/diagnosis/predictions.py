"""What a step would show: the predicted answers to a question, and the causes given that a repair succeeded."""

from __future__ import annotations

from dataclasses import dataclass

from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.diagnose import Diagnosis
from nopost.knowledge.model import Knowledge


def cause_given_repair_success(knowledge: Knowledge, assessment: Diagnosis, action: str) -> tuple[tuple[str, float], ...]:
    """(cause, share) falling, shares sum to 1: the belief before the fix times the chance that the fix mends the cause.

    With a fix that is known to mend none of the causes, the belief itself.
    """
    causes = knowledge.causes
    products = [(cause, p * causes[cause].fixes.get(action, 0.0)) for cause, p in assessment.ranking]
    total = sum(product for _, product in products)
    if total <= 0:
        products, total = list(assessment.ranking), sum(p for _, p in assessment.ranking)
    return tuple(sorted(((cause, product / total) for cause, product in products if product > 0), key=lambda p: (-p[1], p[0])))


@dataclass(frozen=True, slots=True)
class PredictedAnswer:
    """One answer: its probability, and the leading causes after it as (cause, probability)."""

    answer: str
    probability: float
    leading: tuple[tuple[str, float], ...]


def predicted_answers(model: BeliefModel, assessment: Diagnosis, finding: str, count: int = 2) -> list[PredictedAnswer]:
    """The prospects of each answer, the likeliest first."""
    table = model.predict_from_initial_faults(finding, assessment.evidence)
    result = []
    for k, answer in enumerate(model.knowledge.findings[finding].answer_ids):
        joint = assessment.posterior * table[:, k]
        total = float(joint.sum())
        marginals = model.hypotheses.marginals(joint / total)
        order = sorted(range(len(marginals)), key=lambda c: (-marginals[c], model.hypotheses.causes[c]))[:count]
        result.append(PredictedAnswer(answer, total, tuple((model.hypotheses.causes[c], float(marginals[c])) for c in order)))
    return sorted(result, key=lambda p: -p.probability)
