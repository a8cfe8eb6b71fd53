"""Fixes in falling ratio: following what each touches gives the same as multiplying whole matrices."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nopost.diagnosis.advice import repair
from nopost.diagnosis.belief.hypotheses import Floats


def case(seed: int) -> tuple[Floats, Floats, Floats]:
    """Masses, chances (some fixes help nothing, some several causes; the last way is mended by nothing) and costs."""
    rng = np.random.default_rng(seed)
    rows, ways, fixes = rng.integers(1, 5), rng.integers(1, 9), rng.integers(0, 9)
    chance = rng.random((ways, fixes)) * (rng.random((ways, fixes)) < rng.choice((0.1, 0.4, 0.9)))
    chance[-1] = 0.0
    chance[chance > 0.9] = 1.0
    return rng.dirichlet(np.full(ways, 0.5), size=rows), chance, rng.uniform(0.5, 40, fixes)


def taken(thin: bool, monkeypatch: pytest.MonkeyPatch, given_: tuple[Floats, Floats, Floats]) -> list[tuple[Floats, Floats]]:
    """Ratios taken and masses left, step by step."""
    monkeypatch.setattr(repair, "_is_sparse", lambda chance: thin)
    mass, chance, cost = given_
    ways = chance / cost if len(cost) else chance
    result, left, rows = [], mass.copy(), np.arange(len(mass))
    for action, total in repair.greedy_by_efficiency(mass, chance, cost, 6):
        ratio = (left @ ways)[rows, action]
        left = left * (1 - chance.T[action])
        result.append((ratio, total))
        assert total == pytest.approx(left.sum(axis=1), abs=1e-12)
    return result


@settings(max_examples=200)
@given(st.integers(0, 2**32 - 1))
def test_thin_is_dense(seed: int) -> None:
    """The same ratios in the same order, which may be of other fixes where two are equal, and the same mass left."""
    with pytest.MonkeyPatch.context() as patch:
        thin, dense = (taken(way, patch, case(seed)) for way in (True, False))
    assert len(thin) == len(dense)
    for (ratio, left), (other, rest) in zip(thin, dense, strict=True):
        assert ratio == pytest.approx(other, abs=1e-12)
        assert left == pytest.approx(rest, abs=1e-12)


def test_which_is_thin() -> None:
    """The shipped base has fixes that help many causes; a large one where each cause has its own is thin."""
    dense = np.full((60, 80), 0.1)
    thin = np.zeros((1000, 700))
    thin[np.arange(700), np.arange(700)] = 0.9
    assert not repair._is_sparse(dense)
    assert repair._is_sparse(thin)
