"""What closed cases propose: against scipy, a general-purpose reference library, and a published example."""

from __future__ import annotations

import dataclasses
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

import small
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.evaluation.learning import (
    Proposal,
    beta_cdf,
    beta_interval,
    beta_quantile,
    count_cases,
    isotonic_row,
    propose,
    rounded_to_one,
)
from nopost.knowledge.distributions import order_fault
from nopost.knowledge.model import Case, Combine, Knowledge

SHAPE = st.floats(0.05, 400)
ROW = st.lists(st.floats(0.001, 1), min_size=2, max_size=6)


@pytest.mark.slow
@given(a=SHAPE, b=SHAPE, x=st.floats(0.001, 0.999))
def test_cumulative_is_that_of_scipy(a: float, b: float, x: float) -> None:
    """The incomplete beta function."""
    assert beta_cdf(x, a, b) == pytest.approx(stats.beta.cdf(x, a, b), abs=1e-10)


@pytest.mark.slow
@given(a=st.floats(0.5, 400), b=st.floats(0.5, 400), p=st.floats(0.01, 0.99))
def test_quantile_is_that_of_scipy(a: float, b: float, p: float) -> None:
    """And its inverse."""
    assert beta_quantile(p, a, b) == pytest.approx(stats.beta.ppf(p, a, b), abs=1e-8)


@pytest.mark.slow
@given(data=st.data(), row=ROW)
def test_order_is_kept(data: st.DataObject, row: list[float]) -> None:
    """What comes out is a distribution that the loader takes, and it is the isotonic regression that scipy finds."""
    baseline = np.array(data.draw(st.lists(st.floats(0.01, 1), min_size=len(row), max_size=len(row))))
    baseline /= baseline.sum()
    wanted = np.array(row) / sum(row)
    found = isotonic_row(wanted, baseline)
    assert found.sum() == pytest.approx(1)
    answers = [f"a{k}" for k in range(len(row))]
    finding = small.finding("f", dict(zip(answers, baseline, strict=True)))
    assert order_fault(finding, dict(zip(answers, found, strict=True))) is None
    ratios = np.minimum(np.cumsum(wanted) / np.cumsum(baseline), 1.0)
    rising = optimize.isotonic_regression(ratios, weights=baseline).x
    rising[-1] = 1.0
    assert np.cumsum(found) == pytest.approx(rising * np.cumsum(baseline), abs=1e-9)


@pytest.mark.slow
@given(row=ROW)
def test_rounded_rows_add_up(row: list[float]) -> None:
    """To 1, and no entry moves by a whole unit."""
    rounded = rounded_to_one(np.array(row))
    assert sum(rounded) == pytest.approx(1, abs=1e-12)
    assert np.abs(np.array(rounded) - np.array(row) / sum(row)).max() < 1.001e-3


LAMP = small.finding("lamp", {"dark": 1 / 3, "dim": 1 / 3, "lit": 1 / 3}, Combine.EITHER, misreport=0.0)


def base(weights: tuple[float, float] = (30.0, 10.0)) -> Knowledge:
    """Two causes; the first says nothing yet about what the lamp shows."""
    level = {"dark": 1 / 3, "dim": 1 / 3, "lit": 1 / 3}
    causes = [
        small.cause("loose", weights[0], {"lamp": level}, {"press": 0.5}),
        small.cause("dead", weights[1], {"lamp": {"dark": 0.8, "dim": 0.1, "lit": 0.1}}, {"press": 0.1}),
    ]
    return small.knowledge([LAMP], causes, [small.fix("press", 1.0)])


def closed(cause: str, lamp: str, *tried: tuple[str, str]) -> Case:
    """A closed case."""
    return Case(id="c", title="c", answers={"lamp": lamp}, tried=tried, records={}, expect={"cause": cause} if cause else {})


def proposals(cases: list[Case], strength: float, weight_strength: float = 40.0) -> dict[tuple[str, str, str], Proposal]:
    """Proposals by cause, kind and item."""
    model = BeliefModel(base())
    return {(p.cause, p.kind, p.item): p for p in propose(model, count_cases(model, cases), strength, weight_strength)}


def test_published_poll() -> None:
    """Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.4: 727, 583, 137 and a flat prior."""
    poll = [("dark", 727), ("dim", 583), ("lit", 137)]
    found = proposals([closed("loose", answer) for answer, many in poll for _ in range(many)], strength=3.0)
    entries = found["loose", "shows", "lamp"].entries
    assert [entry.new for entry in entries] == pytest.approx([728 / 1450, 584 / 1450, 138 / 1450])
    low, high = stats.beta.ppf([0.05, 0.95], 728, 1450 - 728)
    assert (entries[0].low, entries[0].high) == pytest.approx((low, high), abs=1e-6)


def test_weights_keep_their_sum() -> None:
    """Ten cases of the rarer cause move weight to it: (10 + 10) of (40 + 10), as a beta mean is."""
    found = proposals([closed("dead", "dark")] * 10, strength=1e9)
    assert found["dead", "weight", ""].entries[0].new == pytest.approx(40 * 20 / 50)
    assert found["loose", "weight", ""].entries[0].new == pytest.approx(40 * 30 / 50)


def test_fixes() -> None:
    """Four that started and two that did not, on a chance of a half that counts for ten cases."""
    cases = [closed("loose", "dim", ("press", outcome)) for outcome in ("starts", "same", "starts", "starts", "same", "starts")]
    found = proposals(cases, strength=10.0)
    assert found["loose", "fixes", "press"].entries[0].new == pytest.approx((5 + 4) / 16)
    assert ("dead", "fixes", "press") not in found


def test_open_cases_are_not_counted() -> None:
    """A case that does not say what it was teaches nothing."""
    model = BeliefModel(base())
    counts = count_cases(model, [closed("", "lit"), closed("gremlins", "lit"), closed("dead", "lit")])
    assert (counts.cases, counts.open_cases) == (1, 2)


def test_no_cases_propose_nothing() -> None:
    """Nothing is learned from nothing."""
    assert proposals([], strength=20.0) == {}


def test_misreports_are_shared_out() -> None:
    """A report that is often wrong counts for less: P(true | report, cause) is what is counted (Bayes)."""
    lamp = small.finding("lamp", dict(LAMP.baseline), Combine.EITHER, misreport=0.2)
    cause = small.cause("dead", 1.0, {"lamp": {"dark": 0.5, "dim": 0.3, "lit": 0.2}}, {"press": 0.1})
    model = BeliefModel(small.knowledge([lamp], [cause], [small.fix("press", 1.0)]))
    joint = np.array([0.5 * 0.8, 0.3 * 0.1, 0.2 * 0.1])
    assert count_cases(model, [closed("dead", "dark")]).seen["dead", "lamp"] == pytest.approx(joint / joint.sum())


def test_many_cases_find_the_truth() -> None:
    """With enough cases the number in the file no longer counts."""
    rng = random.Random(7)
    truth = {"dark": 0.1, "dim": 0.2, "lit": 0.7}
    cases = [closed("dead", rng.choices(list(truth), list(truth.values()))[0]) for _ in range(20_000)]
    entries = proposals(cases, strength=20.0)["dead", "shows", "lamp"].entries
    assert [entry.new for entry in entries] == pytest.approx(list(truth.values()), abs=0.015)
    for entry in entries:
        assert entry.low is not None
        assert entry.high is not None
        assert entry.low < entry.new < entry.high


@pytest.mark.parametrize(("a", "b"), [(1, 1), (0.5, 9), (300, 2)])
def test_interval_holds_its_mass(a: float, b: float) -> None:
    """Nine tenths, by scipy."""
    low, high = beta_interval(a, b)
    assert stats.beta.cdf(high, a, b) - stats.beta.cdf(low, a, b) == pytest.approx(0.9, abs=1e-7)


@pytest.mark.parametrize(("combine", "learned"), [(Combine.EITHER, True), (Combine.HISTORY, False)])
def test_of_findings_with_a_parent_only_shares_are_learned(combine: Combine, learned: bool) -> None:
    """A share stays a share of the cause's machines; a ratio applies to a baseline that cases do not show."""
    moved = small.finding("moved", {"yes": 0.5, "no": 0.5}, Combine.HISTORY)
    rows = {"yes": {"dark": 0.8, "dim": 0.1, "lit": 0.1}, "no": {"dark": 0.1, "dim": 0.1, "lit": 0.8}}
    lamp = dataclasses.replace(LAMP, combine=combine, parent="moved", given=rows)
    knowledge = dataclasses.replace(base(), findings={"moved": moved, "lamp": lamp})
    counts = count_cases(BeliefModel(knowledge), [closed("loose", "lit")] * 40)
    assert (("loose", "lamp") in counts.seen) is learned
