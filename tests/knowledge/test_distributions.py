"""Which shares noisy-MAX can combine with a baseline: exactly those that it can make, by enumeration of its definition."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.knowledge.distributions import SLACK, adds_up, order_fault
from nopost.knowledge.model import Answer, Combine, Finding

ANSWERS = ("good", "fair", "bad")
SHARES = st.lists(st.integers(0, 20), min_size=3, max_size=3).filter(any).map(lambda counts: [n / sum(counts) for n in counts])


def graded(baseline: Sequence[float]) -> Finding:
    """A finding with three answers in order."""
    answers = tuple(Answer(name, name) for name in ANSWERS)
    return Finding("state", "State", "whole", answers=answers, combine=Combine.GRADED, baseline=named(baseline))


def named(shares: Sequence[float]) -> Mapping[str, float]:
    """Answer -> chance."""
    return dict(zip(ANSWERS, shares, strict=True))


@pytest.mark.slow
@given(SHARES, SHARES)
def test_what_noisy_max_makes_is_possible(own: list[float], leak: list[float]) -> None:
    """The maximum of a cause's own degree and of the leak's, summed over all pairs (Díez 1993)."""
    seen = [0.0, 0.0, 0.0]
    for one, other in itertools.product(range(3), repeat=2):
        seen[max(one, other)] += own[one] * leak[other]
    assert order_fault(graded(leak), named(seen)) is None


@pytest.mark.slow
@given(SHARES, SHARES)
def test_what_is_possible_is_made_by_noisy_max(seen: list[float], leak: list[float]) -> None:
    """Without a fault there is a distribution of the cause's own degree that makes these shares; with one, its bound breaks."""
    fault = order_fault(graded(leak), named(seen))
    sums, leaks = list(itertools.accumulate(seen)), list(itertools.accumulate(leak))
    if fault is None:
        own = [s / k if k else 0.0 for s, k in zip(sums, leaks, strict=True)]
        assert all(after >= before - SLACK - 1e-12 for before, after in itertools.pairwise([0.0, *own]))
        assert max(own) <= 1 + SLACK + 1e-12
        return
    reached = sums[ANSWERS.index(fault.answer.id)]
    assert (fault.most is None) != (fault.least is None)
    assert reached > fault.most if fault.most is not None else reached < (fault.least or 0.0)


@pytest.mark.parametrize(
    ("shares", "most", "least"),
    [((0.95, 0.0, 0.05), 0.9, None), ((0.6, 0.0, 0.4), None, 0.98 * 0.6 / 0.9), ((0.5, 0.4, 0.1), None, None)],
)
def test_bounds(shares: tuple[float, ...], most: float | None, least: float | None) -> None:
    """By hand, for a baseline of 0.9, 0.08 and 0.02."""
    fault = order_fault(graded((0.9, 0.08, 0.02)), named(shares))
    assert (fault.most if fault else None) == pytest.approx(most)
    assert (fault.least if fault else None) == pytest.approx(least)


def test_adds_up() -> None:
    """Three numbers rounded to the third digit may miss 1 by 0.0015."""
    assert adds_up({"a": 0.333, "b": 0.333, "c": 0.333})
    assert not adds_up({"a": 0.5, "b": 0.497})
