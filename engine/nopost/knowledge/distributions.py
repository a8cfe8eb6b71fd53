"""What a distribution over the answers of a finding must satisfy, so that the mathematics can combine it.

In a graded finding causes meet by noisy-MAX with a leak (Díez 1993): a cause only pushes towards more abnormal than the baseline.
So, answer by answer from the least abnormal up, the sum of what the cause shows is a share of the sum of the baseline that never
falls and never exceeds 1.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from nopost.knowledge.model import Finding

SLACK = 0.0015
"""How far a sum of probabilities may be from 1: three numbers rounded to the third digit."""


@dataclass(frozen=True, slots=True)
class GradedOrderFault:
    """Where a distribution is not one that a cause of a graded finding can have.

    Up to `answer` and with it the probabilities add up to more than `bound` when `too_much`, else to less than `bound`.
    """

    answer: str
    bound: float
    too_much: bool


def adds_up(shown: Mapping[str, float]) -> bool:
    """Whether the probabilities (answer -> probability) add up to 1."""
    return abs(sum(shown.values()) - 1) <= SLACK


def graded_order_fault(finding: Finding, shown: Mapping[str, float]) -> GradedOrderFault | None:
    """The first fault of what a cause shows (answer -> probability) against the baseline of a graded finding; None when there is
    none."""
    below, base, last = 0.0, 0.0, 0.0
    for answer in finding.answer_ids:
        below += shown.get(answer, 0.0)
        base += finding.baseline.get(answer, 0.0)
        ratio = below / base if base > 0 else (0.0 if below == 0 else float("inf"))
        if ratio > 1 + SLACK:
            return GradedOrderFault(answer, base, too_much=True)
        if ratio < last - SLACK:
            return GradedOrderFault(answer, last * base, too_much=False)
        last = ratio
    return None
