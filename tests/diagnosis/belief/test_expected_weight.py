"""Expected weight of evidence: the Kullback-Leibler divergence in decibans, as SciPy, a general-purpose library, computes it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import rel_entr

from diagnosis.belief.random_base import random_knowledge
from nopost.diagnosis.belief.expected_weight import (
    LEAST_DECIBANS,
    LEAST_PROBABILITY,
    ExpectedWeightModel,
    expected_weight,
    pairwise_weights,
)
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel

DECIBANS_PER_NAT = 10 / np.log(10)
"""Source: Good 1950: a deciban is a tenth of a factor of ten on the odds."""


def distributions(seed: int) -> tuple[Floats, Floats]:
    """Two sets of distributions over the same answers, some of them with answers that never occur."""
    rng = np.random.default_rng(seed)
    answers = int(rng.integers(2, 6))
    p, q = (rng.dirichlet(np.full(answers, 0.3), size=int(rng.integers(1, 5))) for _ in range(2))
    p[0] = np.eye(answers)[0]
    return p, q


@settings(max_examples=100)
@given(st.integers(0, 2**32 - 1))
def test_it_is_the_divergence_of_the_reference_library(seed: int) -> None:
    """Relative entropy, with the least probability that counts in place of smaller ones of the rival."""
    p, q = distributions(seed)
    rival = np.maximum(q, LEAST_PROBABILITY)
    reference = rel_entr(p[:, None, :], rival[None, :, :]).sum(axis=2) * DECIBANS_PER_NAT
    assert expected_weight(p, q) == pytest.approx(np.maximum(reference, 0.0), abs=1e-9)


def test_by_hand() -> None:
    """0.9 against 0.2: 0.9 * 6.532 - 0.1 * 9.031 decibans; none for equal distributions; finite where the rival has a 0."""
    p, q = np.array([[0.9, 0.1]]), np.array([[0.2, 0.8], [0.9, 0.1], [0.0, 1.0]])
    found = expected_weight(p, q)[0]
    assert found[0] == pytest.approx(0.9 * 6.53212514 - 0.1 * 9.03089987, abs=1e-6)
    assert found[1] == pytest.approx(0.0, abs=1e-12)
    assert np.isfinite(found[2])


@pytest.mark.parametrize("seed", range(5))
def test_the_best_discriminator_is_the_best_question_of_the_pair(seed: int) -> None:
    """What a cause page names and the weights between all causes are one computation."""
    model = BeliefModel(random_knowledge(seed))
    weights = pairwise_weights(model, list(model.knowledge.findings))
    pages = ExpectedWeightModel(model)
    for one in model.cause_index:
        for other in model.cause_index:
            decibans = weights.best_decibans[model.cause_index[one], model.cause_index[other]]
            found = pages.best_discriminator(one, other)
            assert (found is None) == (decibans < LEAST_DECIBANS)
            if found is not None:
                assert found.finding == weights.best_discriminator(one, other)
                assert found.decibans == pytest.approx(decibans)
                assert found.probability > found.probability_other
