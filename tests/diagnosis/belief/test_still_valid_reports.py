"""Reports stay valid over a fix that changed nothing: instruments that read one finding before and after it are dependent."""

from __future__ import annotations

import numpy as np
import pytest

import small
from nopost.diagnosis.belief.evidence import Evidence, Report
from nopost.diagnosis.belief.explanation import weights_of_evidence
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.knowledge.model import Instrument

LAMP, CODE = Report("lamp", "late"), Report("code", "late", 1)
SAME = frozenset({1})
READS = {"early": {"early": 0.9, "late": 0.1}, "late": {"early": 0.2, "late": 0.8}}


def model() -> BeliefModel:
    """A stage that a lamp and a code read, something else that reads nothing, and two causes that may be together."""
    stage = small.finding("stage", {"early": 0.7, "late": 0.3})
    heat = small.finding("heat", {"no": 0.8, "yes": 0.2})
    lamp, code = (small.finding(name, {}, misreport=0.0, reads=Instrument("stage", READS)) for name in ("lamp", "code"))
    causes = [
        small.cause("lead", 0.5, {"stage": {"early": 0.1, "late": 0.9}}, {"mend": 0.5}),
        small.cause("board", 0.5, {"stage": {"early": 0.6, "late": 0.4}, "heat": {"no": 0.3, "yes": 0.7}}, {}),
    ]
    base = small.base(two_faults=0.5)
    return BeliefModel(small.knowledge([stage, heat, lamp, code], causes, [small.fix("mend", 1.0)], base_=base))


def test_one_cause_reads_the_same_before_and_after() -> None:
    """Bayes by hand for a single cause: P(lamp, code) = sum over stages, not a product of two draws."""
    belief = model()
    prior = belief.log_joint(Evidence((), ("mend",), unchanged=SAME))
    found = np.exp(belief.log_joint(Evidence((LAMP, CODE), ("mend",), unchanged=SAME)) - prior)
    assert found[:2] == pytest.approx([0.1 * 0.1 * 0.1 + 0.9 * 0.8 * 0.8, 0.6 * 0.1 * 0.1 + 0.4 * 0.8 * 0.8])
    apart = np.exp(belief.log_joint(Evidence((LAMP, CODE), ("mend",))) - prior)
    assert apart[:2] == pytest.approx([(0.1 * 0.1 + 0.9 * 0.8) ** 2, (0.6 * 0.1 + 0.4 * 0.8) ** 2])


def test_the_prediction_is_what_the_answer_then_weighs() -> None:
    """P(code | hypothesis, lamp) is the factor that the code adds, for what is still wrong and for what was wrong."""
    belief = model()
    before = Evidence((LAMP,), ("mend",), unchanged=SAME)
    step = belief.log_joint(Evidence((LAMP, CODE), ("mend",), unchanged=SAME)) - belief.log_joint(before)
    assert belief.predict_from_initial_faults("code", before)[:, 1] == pytest.approx(np.exp(step))
    # When nothing was said of "unchanged", the lamp was seen on another machine, so to speak.
    assert belief.predict_from_current_faults("code", Evidence((LAMP,), ("mend",))) == pytest.approx(
        belief.reported_answer_tables["code"]
    )


def test_a_second_instrument_tells_less_after_no_change() -> None:
    """The lamp has shown the stage: the causes differ less in what the code will show."""
    belief = model()
    spread = [
        np.ptp(belief.predict_from_current_faults("code", e)[:2, 1])
        for e in (Evidence((LAMP,), ("mend",), unchanged=SAME), Evidence())
    ]
    assert spread[0] < spread[1] / 2


@pytest.mark.parametrize(
    "report", [Report("heat", "yes", 1), Report("lamp", "early", 1)], ids=["another thing", "another answer"]
)
def test_what_is_not_another_instrument_counts_as_before(report: Report) -> None:
    """Another finding, and another answer to the same one, are evidence of their own."""
    belief, reports = model(), (LAMP, report)
    told = [belief.log_joint(Evidence(reports, ("mend",), unchanged=unchanged)) for unchanged in (SAME, frozenset[int]())]
    assert told[0] == pytest.approx(told[1])


def test_a_change_in_between_ends_validity() -> None:
    """Of three fixes the second changed something: what was seen before it stands no more."""
    reports = (Report("lamp", "late"), Report("heat", "no", 1), Report("lamp", "early", 2))
    evidence = Evidence(reports, ("a", "b", "c"), unchanged=frozenset({1, 3}))
    assert [evidence.still_valid(epoch) for epoch in range(4)] == [(), reports[:1], (), reports[2:]]


def test_weights_of_evidence_still_add_up() -> None:
    """The prior log odds and all the weights make the posterior log odds."""
    belief = model()
    evidence = Evidence((LAMP, CODE), ("mend",), unchanged=SAME)
    for cause in belief.hypotheses.causes:
        inside = belief.hypotheses.members[:, belief.cause_index[cause]] > 0
        odds = [np.log10(p[inside].sum() / p[~inside].sum()) * 10 for p in map(belief.posterior, (Evidence(), evidence))]
        weights = sum(w.decibans for w in weights_of_evidence(belief, evidence, cause))
        assert odds[0] + weights == pytest.approx(odds[1])
