"""Quantiles of the beta distribution, for the intervals of chances."""

from __future__ import annotations

import math

ROUNDS = 200
SMALL = 1e-300
EXACT = 1e-15
NOTHING = 1e-9


def interval(a: float, b: float, mass: float = 0.9) -> tuple[float, float]:
    """The central interval that holds `mass` of Beta(a, b); with nothing for one side, that side's end."""
    if min(a, b) < NOTHING:
        return (0.0, 0.0) if a < b else (1.0, 1.0)
    tail = (1 - mass) / 2
    return quantile(tail, a, b), quantile(1 - tail, a, b)


def quantile(p: float, a: float, b: float) -> float:
    """The x with P(X <= x) = p for X ~ Beta(a, b), by bisection."""
    low, high = 0.0, 1.0
    while high - low > EXACT * max(high, 1e-12) and (middle := (low + high) / 2) not in (low, high):
        low, high = (middle, high) if cumulative(middle, a, b) < p else (low, middle)
    return (low + high) / 2


def cumulative(x: float, a: float, b: float) -> float:
    """P(X <= x) for X ~ Beta(a, b): the regularised incomplete beta function (DLMF 8.17)."""
    if not 0 < x < 1:
        return float(x >= 1)
    front = math.exp(math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x))
    if x < (a + 1) / (a + b + 2):
        return front * _fraction(x, a, b) / a
    return 1 - front * _fraction(1 - x, b, a) / b


def _fraction(x: float, a: float, b: float) -> float:
    """The continued fraction of DLMF 8.17.22, by the method of Lentz."""
    c, d = 1.0, 1 / _kept(1 - (a + b) * x / (a + 1))
    value = d
    for m in range(1, ROUNDS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            d = 1 / _kept(1 + term * d)
            c = _kept(1 + term / c)
            value *= c * d
        if abs(c * d - 1) < EXACT:
            break
    return value


def _kept(value: float) -> float:
    return value if abs(value) > SMALL else SMALL
