"""The advice with preparations, rounds and postponed trials, played to the end, against the exact optimum of small problems."""

from __future__ import annotations

from collections.abc import Callable
from statistics import mean

import pytest

from diagnosis.advice.workbench import (
    RESORT,
    BenchState,
    Workbench,
    cost_of_policy,
    engine_policy,
    optimal_cost,
    random_workbench,
)

MEAN, WORST = 0.01, 0.06
"""Bounds on the share above the optimum."""


@pytest.mark.slow
@pytest.mark.parametrize("block", range(3))
def test_nearly_as_well_as_can_be(block: int, record_property: Callable[[str, object], None]) -> None:
    """120 random benches in all; nothing beats the optimum."""
    benches = [random_workbench(seed) for seed in range(block * 40, (block + 1) * 40)]
    excess = [cost_of_policy(bench, engine_policy(bench)) / optimal_cost(bench) - 1 for bench in benches]
    record_property("mean_excess", mean(excess))
    record_property("worst_excess", max(excess))
    assert min(excess) > -1e-9
    assert mean(excess) <= MEAN
    assert max(excess) <= WORST


def bench(look_cost: float) -> Workbench:
    """Two faults behind one panel, each with a fix of 10 that mends it; a look at each, sure, behind the panel (4 to open)."""
    sure = [[1.0, 0.0], [0.0, 1.0]]
    inside = frozenset({0})
    return Workbench(
        [0.5, 0.5], [sure], [look_cost], [inside], [[1, 0], [0, 1]], [10, 10], [inside] * 2, [4], [True], 1, 0.5, [100, 100]
    )


@pytest.mark.parametrize(("look", "least"), [(0.5, 16.0), (4.9, 20.4), (9.0, 20.5)])
def test_by_hand(look: float, least: float) -> None:
    """Open 4, screen 0.5 and look, fix 10 and trial 1; or open, fix and trial 15 and half the time 11 more."""
    assert optimal_cost(bench(look)) == pytest.approx(least)
    assert cost_of_policy(bench(look), engine_policy(bench(look))) == pytest.approx(least)


def test_hands_over_when_nothing_pays() -> None:
    """A fix of 100 for a machine that the workshop mends for 100."""
    dear = Workbench([1.0], [], [], [], [[1.0]], [100], [frozenset({0})], [4], [True], 1, 0.5, [100])
    assert engine_policy(dear)(BenchState()) == RESORT
    assert optimal_cost(dear) == pytest.approx(100)
