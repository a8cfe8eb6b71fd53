"""Going by ways to be broken instead of by hypotheses gives the same, and what is left out is little and said."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnosis.belief.generated_base import generated, told
from diagnosis.belief.random_base import random_evidence, random_knowledge
from nopost.diagnosis.advice import lookahead as scopes
from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.advice.lookahead import MANY_HYPOTHESES, Lookahead, LookaheadByFault, LookaheadByHypothesis
from nopost.diagnosis.advice.value_of_information import Question
from nopost.diagnosis.belief.evidence import Evidence
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.observations import Observations

ROUNDING = 1e-9
HUGE = 10**9


@pytest.fixture
def nothing_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both look at everything."""
    monkeypatch.setattr(scopes, "NEGLIGIBLE_MASS", 0.0)
    monkeypatch.setattr(scopes, "NEGLIGIBLE_FAULT_MASS", 0.0)


def branches(model: BeliefModel, looked_at: Lookahead, evidence: Evidence) -> np.ndarray:
    """(all answers, all ways) probability of each answer together with each way to be broken."""
    names = list(model.observation_models)
    asked = [
        Question(*each) for each in zip(names, [1.0] * len(names), looked_at.predictive_tables(names, evidence), strict=True)
    ]
    rows = np.concatenate([q.table.T for q in asked])
    if looked_at.fault_shares.ndim == 1:
        masses = rows * (looked_at.belief * looked_at.fault_shares)
    else:
        masses = rows @ (looked_at.belief[:, None] * looked_at.fault_shares)
    result = np.zeros((len(rows), len(model.hypotheses.causes) + 1))
    result[:, looked_at.faults] = masses
    return result


@pytest.mark.usefixtures("nothing_left_out")
@settings(max_examples=150)
@given(st.integers(0, 2**32 - 1))
def test_every_answer_leaves_the_same_mass_of_every_way(seed: int) -> None:
    """All ways to combine, instruments, answers that still stand and failed fixes included."""
    rng = random.Random(seed)
    knowledge = random_knowledge(seed)
    model = BeliefModel(knowledge)
    evidence = random_evidence(rng, knowledge, reports=rng.randint(0, 5), tried=rng.randint(0, 2))
    now = model.current_posterior(model.posterior(evidence), evidence)
    by_way, by_hypothesis = LookaheadByFault(model, now), LookaheadByHypothesis(model, now)
    assert branches(model, by_way, evidence) == pytest.approx(branches(model, by_hypothesis, evidence), abs=ROUNDING)


@pytest.mark.usefixtures("nothing_left_out")
@pytest.mark.parametrize("seed", range(4))
def test_the_same_advice_by_ways(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """120 causes and 60 findings: too many answers for two questions in a row, so all of it must be the same."""
    assessor = Diagnostician(generated(120, 60, seed))
    for answers in (0, 1, 6):
        seen = Observations(told(assessor.knowledge, answers, seed).reports)
        monkeypatch.setattr(scopes, "MANY_HYPOTHESES", HUGE)
        full = assessor.assess(seen)
        monkeypatch.setattr(scopes, "MANY_HYPOTHESES", 0)
        assert_same(assessor.assess(seen), full, ROUNDING)


def test_at_200_causes_what_is_left_out_hardly_matters(monkeypatch: pytest.MonkeyPatch) -> None:
    """At the size where both can be done, the ways that are left out move no cost by more than the shop times their mass."""
    assessor = Diagnostician(generated(200, 200, 7))
    seen = Observations(told(assessor.knowledge, 20, 7).reports)
    monkeypatch.setattr(scopes, "NEGLIGIBLE_MASS", 0.0)
    monkeypatch.setattr(scopes, "MANY_HYPOTHESES", HUGE)
    full = assessor.assess(seen)
    monkeypatch.setattr(scopes, "MANY_HYPOTHESES", 0)
    ours = assessor.assess(seen)
    assert 0 < ours.advice.truncated_mass < 1e-6
    assert_same(ours, full, 1e-6 * assessor.knowledge.base.shop.effort.cost(1.0) * 2)


def assert_same(one: Diagnosis, other: Diagnosis, margin: float) -> None:
    """The same steps at the same cost."""
    assert one.ranking == other.ranking
    assert one.advice.expected_cost_of_repair_now == pytest.approx(other.advice.expected_cost_of_repair_now, abs=margin)
    ours, theirs = ({s.id: s.expected_total_cost for s in (a.advice.step, *a.advice.others)} for a in (one, other))
    assert ours.keys() == theirs.keys()
    assert ours == pytest.approx(theirs, abs=margin)


def test_a_thousand_causes() -> None:
    """Half a million hypotheses fit, and a whole session can be led: what is left out is said."""
    assessor = Diagnostician(generated(1000, 1000, 2))
    assert len(assessor.model.hypotheses.first) > MANY_HYPOTHESES
    evidence = told(assessor.knowledge, 6, 2)
    first = assessor.assess(Observations())
    later = assessor.assess(Observations(evidence.reports))
    assert all(0 <= a.advice.truncated_mass < 1e-6 for a in (first, later))
    assert later.posterior.sum() == pytest.approx(1)
    assert any(s.kind is StepKind.ASK for s in (first.advice.step, *first.advice.others))
    assert later.ranking[0][1] > first.ranking[0][1]
    leading = later.ranking[0][0]
    fix = max(assessor.knowledge.causes[leading].fixes.items(), key=lambda pair: pair[1])[0]
    failed = assessor.assess(Observations(evidence.reports, (fix,)))
    assert failed.advice.truncated_mass < 1e-6
    assert dict(failed.ranking)[leading] < dict(later.ranking)[leading]
    assert "members" not in vars(assessor.model.hypotheses)
