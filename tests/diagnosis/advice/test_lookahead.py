"""Considering fault marginals instead of hypotheses gives the same advice, and little probability mass is truncated."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnosis.belief.generated_base import generated, sampled_evidence
from diagnosis.belief.random_base import random_evidence, random_knowledge
from nopost.diagnosis.advice import adviser
from nopost.diagnosis.advice import lookahead as lookaheads
from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.advice.lookahead import MANY_HYPOTHESES, Lookahead, LookaheadByFault, LookaheadByHypothesis
from nopost.diagnosis.advice.value_of_information import Question
from nopost.diagnosis.belief.evidence import Evidence, Observations
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician

ROUNDING = 1e-9
HUGE = 10**9


@pytest.fixture
def nothing_truncated(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both consider everything."""
    monkeypatch.setattr(lookaheads, "NEGLIGIBLE_MASS", 0.0)
    monkeypatch.setattr(lookaheads, "NEGLIGIBLE_FAULT_MASS", 0.0)


def branches(model: BeliefModel, cases: Lookahead, evidence: Evidence) -> np.ndarray:
    """(all answers, all faults) P(fault and answer)."""
    names = list(model.knowledge.findings)
    asked = [Question(*each) for each in zip(names, [1.0] * len(names), cases.predictive_tables(names, evidence), strict=True)]
    rows = np.concatenate([q.table.T for q in asked])
    if cases.fault_shares.ndim == 1:
        masses = rows * (cases.belief * cases.fault_shares)
    else:
        masses = rows @ (cases.belief[:, None] * cases.fault_shares)
    result = np.zeros((len(rows), len(model.hypotheses.causes) + 1))
    result[:, cases.faults] = masses
    return result


@pytest.mark.slow
@pytest.mark.usefixtures("nothing_truncated")
@settings(max_examples=150)
@given(st.integers(0, 2**32 - 1))
def test_every_answer_has_the_same_joint_probability_with_every_fault(seed: int) -> None:
    """With all kinds of findings, instruments, answers that are still valid and failed repairs."""
    rng = random.Random(seed)
    knowledge = random_knowledge(seed)
    model = BeliefModel(knowledge)
    evidence = random_evidence(rng, knowledge, reports=rng.randint(0, 5), tried=rng.randint(0, 2))
    now = model.current_posterior(model.posterior(evidence), evidence)
    by_fault, by_hypothesis = LookaheadByFault(model, now), LookaheadByHypothesis(model, now)
    assert branches(model, by_fault, evidence) == pytest.approx(branches(model, by_hypothesis, evidence), abs=ROUNDING)


@pytest.mark.slow
@pytest.mark.usefixtures("nothing_truncated")
@pytest.mark.parametrize("seed", range(4))
def test_the_same_advice_by_faults(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """120 causes and 60 findings: too many answers for two questions in a row, so all of it must be the same."""
    diagnostician = Diagnostician(generated(120, 60, seed))
    for answers in (0, 1, 6):
        seen = Observations(sampled_evidence(diagnostician.knowledge, answers, seed).reports)
        monkeypatch.setattr(lookaheads, "MANY_HYPOTHESES", HUGE)
        full = diagnostician.assess(seen)
        monkeypatch.setattr(lookaheads, "MANY_HYPOTHESES", 0)
        assert_same(diagnostician.assess(seen), full, ROUNDING)


@pytest.mark.slow
def test_at_200_causes_the_truncated_mass_hardly_matters(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where both can be computed, truncated faults change no cost by more than the last resort times their mass."""
    diagnostician = Diagnostician(generated(200, 200, 7))
    seen = Observations(sampled_evidence(diagnostician.knowledge, 20, 7).reports)
    monkeypatch.setattr(lookaheads, "NEGLIGIBLE_MASS", 0.0)
    monkeypatch.setattr(lookaheads, "MANY_HYPOTHESES", HUGE)
    full = diagnostician.assess(seen)
    monkeypatch.setattr(lookaheads, "MANY_HYPOTHESES", 0)
    ours = diagnostician.assess(seen)
    assert 0 < ours.advice.truncated_mass < 1e-6
    assert_same(ours, full, 1e-6 * diagnostician.knowledge.base.shop.effort.cost(1.0) * 2)


def assert_same(one: Diagnosis, other: Diagnosis, margin: float) -> None:
    """The same steps at the same cost."""
    assert one.ranking == other.ranking
    assert one.advice.expected_cost_of_repair_now == pytest.approx(other.advice.expected_cost_of_repair_now, abs=margin)
    ours, theirs = ({s.id: s.expected_total_cost for s in (a.advice.step, *a.advice.others)} for a in (one, other))
    assert ours.keys() == theirs.keys()
    assert ours == pytest.approx(theirs, abs=margin)


@pytest.mark.slow
def test_a_thousand_causes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Half a million hypotheses fit, a whole session can be led, and the truncated mass is reported. Every gain counts here, for
    none of a thousand made-up questions saves much by itself."""
    monkeypatch.setattr(adviser, "LEAST_VALUE", 0.0)
    diagnostician = Diagnostician(generated(1000, 1000, 2))
    assert len(diagnostician.model.hypotheses.first) > MANY_HYPOTHESES
    evidence = sampled_evidence(diagnostician.knowledge, 6, 2)
    first = diagnostician.assess(Observations())
    later = diagnostician.assess(Observations(evidence.reports))
    assert all(0 <= a.advice.truncated_mass < 1e-6 for a in (first, later))
    assert later.posterior.sum() == pytest.approx(1)
    assert any(s.kind is StepKind.ASK for s in (first.advice.step, *first.advice.others))
    assert later.ranking[0][1] > first.ranking[0][1]
    leading = later.ranking[0][0]
    fix = max(diagnostician.knowledge.causes[leading].fixes.items(), key=lambda pair: pair[1])[0]
    failed = diagnostician.assess(Observations(evidence.reports, (fix,)))
    assert failed.advice.truncated_mass < 1e-6
    assert dict(failed.ranking)[leading] < dict(later.ranking)[leading]
    assert "members" not in vars(diagnostician.model.hypotheses)
