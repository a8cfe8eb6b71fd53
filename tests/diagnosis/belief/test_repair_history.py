"""Failed repairs: what they say about a cause, and that what is seen afterwards is explained by what remains."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import small
from diagnosis.belief.random_base import part_of, random_evidence, random_knowledge
from diagnosis.belief.reference import enumerated
from nopost.diagnosis.belief.evidence import Evidence, RepairHistory, Report
from nopost.diagnosis.belief.posterior import LEAST_PERSISTENCE, BeliefModel
from nopost.knowledge.model import Knowledge

SEEDS = st.integers(0, 10**6)


def agree(knowledge: Knowledge, evidence: Evidence) -> None:
    """Every hypothesis has the posterior that enumeration gives it."""
    model = BeliefModel(knowledge)
    names = np.array(model.hypotheses.causes)
    found = {frozenset(names[row > 0]): p for row, p in zip(model.hypotheses.members, model.posterior(evidence), strict=True)}
    assert found == pytest.approx(enumerated(knowledge, evidence), abs=1e-9)


@pytest.mark.slow
@settings(max_examples=120)
@given(SEEDS, st.integers(0, 3), st.integers(0, 3))
def test_history_equals_enumeration(seed: int, tried: int, rules: int) -> None:
    """Up to three failed fixes with answers before, between and after: summed over all that may be left each time."""
    knowledge = random_knowledge(seed)
    agree(knowledge, random_evidence(random.Random(seed), knowledge, reports=7 if tried else 4, tried=tried, rules=rules))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_history_on_shipped_causes(knowledge: Knowledge, seed: int) -> None:
    """The same on parts of the shipped base with two fixes."""
    rng = random.Random(seed)
    part = part_of(knowledge, rng.sample(sorted(knowledge.causes), 5))
    agree(part, random_evidence(rng, part, reports=10, tried=2))


def two_faults() -> Knowledge:
    """Memory and cooler may both be wrong; each shows itself and has a fix that never fails when done well."""
    findings = [small.finding(name, {"no": 0.98, "yes": 0.02}, misreport=0.01) for name in ("alarm", "hot")]
    causes = [
        small.cause("memory", 50, {"alarm": {"no": 0.05, "yes": 0.95}}, {"refit": 1.0}),
        small.cause("cooler", 50, {"hot": {"no": 0.05, "yes": 0.95}}, {"press": 1.0}),
        small.cause("board", 50, {}, {"replace": 0.9}),
    ]
    return small.knowledge(findings, causes, base_=small.base(two_faults=0.2, unlisted=0.005))


def test_new_evidence_is_explained_by_what_remains() -> None:
    """Alarm and heat; memory is mended; the alarm is gone and the heat is still there: it was both, and the cooler is left."""
    knowledge = two_faults()
    model = BeliefModel(knowledge)
    before = (Report("alarm", "yes"), Report("hot", "yes"))
    after = (Report("alarm", "no", 1), Report("hot", "yes", 1))
    evidence = Evidence((*before, *after), ("refit",))
    agree(knowledge, evidence)
    found = dict(zip(model.hypotheses.causes, model.hypotheses.marginals(model.posterior(evidence)), strict=True))
    assert found["memory"] > 0.8
    assert found["cooler"] > 0.99
    # Had the alarm gone on, the fix would have been done badly: memory alone is then as good as before.
    stubborn = Evidence((Report("alarm", "yes"), Report("alarm", "yes", 1)), ("refit",))
    agree(knowledge, stubborn)
    assert model.posterior(stubborn)[0] > LEAST_PERSISTENCE


def test_what_is_seen_between_two_fixes() -> None:
    """The second failure says which one was left after the first: it counts together with what was seen in between."""
    knowledge = two_faults()
    between = (Report("alarm", "yes", 1), Report("hot", "no", 1))
    for later in ((), (Report("hot", "yes", 2),), (Report("alarm", "no", 2), Report("hot", "no", 2))):
        agree(knowledge, Evidence((Report("hot", "yes"), *between, *later), ("refit", "press")))
        agree(knowledge, Evidence((*between, *later), ("press", "refit")))


@pytest.mark.slow
@given(SEEDS)
@settings(max_examples=150)
def test_failed_fix_lowers_what_it_mends_best(seed: int) -> None:
    """The odds of 'this cause alone' never rise when the fix fails that mends no other one better."""
    rng = random.Random(seed)
    knowledge = random_knowledge(seed)
    model = BeliefModel(knowledge)
    evidence = random_evidence(rng, knowledge, reports=4, tried=rng.randint(0, 1))
    for action in {a for c in knowledge.causes.values() for a in c.fixes}:
        chances = {name: c.fixes.get(action, 0.0) for name, c in knowledge.causes.items()}
        best = max(chances, key=lambda name: chances[name])
        k = model.cause_index[best]
        p = model.posterior(evidence)[k]
        q = model.posterior(Evidence(evidence.reports, (*evidence.failed_repairs, action)))[k]
        assert q / (1 - q) <= p / (1 - p) * (1 + 1e-9)


def test_failed_fix_in_numbers() -> None:
    """A fix with a chance of 3/4 that failed takes 6.02 decibans (a factor 1/4) from its cause, given one fault."""
    causes = [small.cause(name, 1, {}, {"fix": chance}, alone=True) for name, chance in (("it", 0.75), ("other", 0.0))]
    model = BeliefModel(small.knowledge([], causes))
    before, after = (model.posterior(Evidence((), tried)) for tried in ((), ("fix",)))
    assert after[0] / after[1] / (before[0] / before[1]) == pytest.approx(0.25)
    assert 10 * math.log10(0.25) == pytest.approx(-6.02, abs=0.001)


def test_perfect_fix_leaves_a_doubt() -> None:
    """Even a fix that always mends may have been done badly, each time with the same small chance."""
    model = BeliefModel(two_faults())
    k = model.cause_index["memory"]
    assert model.persistence(["refit"])[k] == LEAST_PERSISTENCE
    assert model.persistence(["refit", "refit"])[k] == pytest.approx(LEAST_PERSISTENCE**2)
    assert model.persistence(["press"])[k] == 1


def test_what_cannot_be_leaves_numbers() -> None:
    """A pair with which nothing that was seen is possible counts as whole, not as no number at all."""
    h = BeliefModel(two_faults()).hypotheses
    history = RepairHistory.start(h).observe(np.full(len(h.first), -np.inf)).fix_failed(np.full(len(h.causes), 0.5))
    assert history.remaining_of_pairs().sum(axis=0) == pytest.approx(1)
    assert history.current_posterior(np.full(len(h.first), 1 / len(h.first))).sum() == pytest.approx(1)
