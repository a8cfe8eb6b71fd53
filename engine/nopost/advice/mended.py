"""Which cause a fix mended, once the machine starts."""

from __future__ import annotations

from nopost.advice.assess import Assessment
from nopost.knowledge.model import Knowledge


def mended_by(knowledge: Knowledge, assessment: Assessment, action: str) -> tuple[tuple[str, float], ...]:
    """(cause, share) falling, shares sum to 1: the belief before the fix times the chance that the fix mends the cause.

    With a fix that is known to mend none of the causes, the belief itself.
    """
    causes = knowledge.causes
    products = [(cause, p * causes[cause].fixes.get(action, 0.0)) for cause, p in assessment.ranking]
    total = sum(product for _, product in products)
    if total <= 0:
        products, total = list(assessment.ranking), sum(p for _, p in assessment.ranking)
    return tuple(sorted(((cause, product / total) for cause, product in products if product > 0), key=lambda p: (-p[1], p[0])))
