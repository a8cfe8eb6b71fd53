"""Distributions over the answers of a finding: whether they add up, and whether a graded finding can have them.

The answers of a graded finding stand in order from least to most abnormal, and causes combine by noisy-MAX with a leak: each
cause that is there makes a degree of its own, and the largest is seen (Díez, "Parameter adjustment in Bayes networks: the
generalized noisy OR-gate", UAI 1993). What is seen of one cause is then the maximum of its own degree and of the leak, the
baseline: P(seen <= k | cause) = P(own <= k) P(leak <= k). So P(own <= k), the cumulative share that the cause shows over the
baseline's, must itself be a cumulative distribution: it never falls from one answer to the next, and never exceeds 1.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from nopost.knowledge.model import Answer, Finding

SLACK = 0.0015
"""How far a sum of probabilities may be from 1: three numbers rounded to the third digit."""


class OrderFault(NamedTuple):
    """A graded finding cannot show this: the shares up to and with `answer` are, in sum, more than `most` or less than `least`.

    The sums are chances from 0 to 1; one of the two bounds is None.
    """

    answer: Answer
    most: float | None
    least: float | None


def adds_up(shares: Mapping[str, float]) -> bool:
    """Whether these chances add up to 1, as far as their rounding allows."""
    return abs(sum(shares.values()) - 1) <= SLACK


def order_fault(finding: Finding, shares: Mapping[str, float]) -> OrderFault | None:
    """The first answer at which noisy-MAX (see above) cannot combine these shares with the baseline of a graded finding.

    `shares`: answer -> chance, what is not named is 0. None when all is well.
    """
    seen = usual = last = 0.0
    for answer in finding.answers:
        seen += shares.get(answer.id, 0.0)
        usual += finding.baseline.get(answer.id, 0.0)
        own = seen / usual if usual > 0 else 0.0 if seen <= 0 else math.inf
        if own > 1 + SLACK:
            return OrderFault(answer, most=usual, least=None)
        if own < last - SLACK:
            return OrderFault(answer, most=None, least=last * usual)
        last = own
    return None
