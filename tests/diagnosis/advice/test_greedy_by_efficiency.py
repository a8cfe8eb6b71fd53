"""Greedy by efficiency p/C: updating only what a fix affects gives the same as multiplying whole matrices."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nopost.diagnosis.advice import promising_fixes
from nopost.diagnosis.advice.preparations import RepairCosts
from nopost.diagnosis.belief.hypotheses import Floats


def case(seed: int) -> tuple[Floats, Floats, Floats]:
    """Masses, repair probabilities (some fixes help nothing, some several faults; no fix removes the last fault) and costs."""
    rng = np.random.default_rng(seed)
    rows, faults, fixes = rng.integers(1, 5), rng.integers(1, 9), rng.integers(0, 9)
    chance = rng.random((faults, fixes)) * (rng.random((faults, fixes)) < rng.choice((0.1, 0.4, 0.9)))
    chance[-1] = 0.0
    chance[chance > 0.9] = 1.0
    return rng.dirichlet(np.full(faults, 0.5), size=rows), chance, rng.uniform(0.5, 40, fixes)


def taken(sparse: bool, monkeypatch: pytest.MonkeyPatch, given_: tuple[Floats, Floats, Floats]) -> list[tuple[Floats, Floats]]:
    """The greatest efficiency and the mass that remains, step by step."""
    monkeypatch.setattr(promising_fixes, "_is_sparse", lambda chance: sparse)
    mass, chance, cost = given_
    per_mass = chance / cost if len(cost) else chance
    result, left, rows = [], mass.copy(), np.arange(len(mass))
    costs = RepairCosts.plain(cost, 100.0, mass.shape[1])
    for step in promising_fixes.promising_fixes(mass, chance, costs, np.zeros((len(mass), 0)), 6):
        ratio = (left @ per_mass)[rows, step.fix]
        left = left * (1 - chance.T[step.fix])
        result.append((ratio, step.broken))
        assert step.broken == pytest.approx(left.sum(axis=1), abs=1e-12)
        assert step.resort == pytest.approx(100 * left.sum(axis=1), abs=1e-9)
        assert step.cost == pytest.approx(cost[step.fix])
    return result


@pytest.mark.slow
@settings(max_examples=200)
@given(st.integers(0, 2**32 - 1))
def test_sparse_equals_dense(seed: int) -> None:
    """The same efficiencies in order, which may be of other fixes where two are equal, and the same remaining mass."""
    with pytest.MonkeyPatch.context() as patch:
        sparse, dense = (taken(chosen, patch, case(seed)) for chosen in (True, False))
    assert len(sparse) == len(dense)
    for (ratio, left), (other, rest) in zip(sparse, dense, strict=True):
        assert ratio == pytest.approx(other, abs=1e-12)
        assert left == pytest.approx(rest, abs=1e-12)


def test_which_is_sparse() -> None:
    """The shipped base has fixes that help many causes; a large one where each cause has its own is sparse."""
    dense = np.full((60, 80), 0.1)
    sparse = np.zeros((1000, 700))
    sparse[np.arange(700), np.arange(700)] = 0.9
    assert not promising_fixes._is_sparse(dense)
    assert promising_fixes._is_sparse(sparse)
