"""What is still wrong after fixes that failed."""

from __future__ import annotations

import numpy as np
import pytest

import small
from nopost.diagnosis.belief.evidence import Evidence, Report
from nopost.diagnosis.belief.posterior import BeliefModel

ONE, OTHER, PAIR, UNLISTED = range(4)


def model() -> BeliefModel:
    """Two causes that may be together; a fix that mends the first three times in four."""
    lamp = small.finding("lamp", {"off": 0.9, "on": 0.1})
    causes = [small.cause("lead", 0.5, {"lamp": {"off": 0.2, "on": 0.8}}, {"mend": 0.75}), small.cause("board", 0.5, {}, {})]
    return BeliefModel(small.knowledge([lamp], causes, [small.fix("mend", 1.0)], base_=small.base(two_faults=0.5)))


def test_nothing_has_changed_before_the_first_fix() -> None:
    """What was there at first is there now."""
    belief = model()
    posterior = belief.posterior(Evidence())
    assert belief.current_posterior(posterior, Evidence()) is posterior


def test_a_pair_becomes_a_single_cause_by_as_much_as_the_fix_mends() -> None:
    """Three quarters of the pairs have lost their first cause, and none became anything else."""
    belief, evidence = model(), Evidence(failed_repairs=("mend",))
    posterior = belief.posterior(evidence)
    now = belief.current_posterior(posterior, evidence)
    assert now.sum() == pytest.approx(1.0)
    assert now[PAIR] == pytest.approx(posterior[PAIR] / 4)
    assert now[OTHER] == pytest.approx(posterior[OTHER] + posterior[PAIR] * 3 / 4)
    assert now[[ONE, UNLISTED]] == pytest.approx(posterior[[ONE, UNLISTED]])


def test_predictions_by_what_was_and_by_what_is_there_agree() -> None:
    """P(next answer) is the same either way, also when something was seen after the fix."""
    belief = model()
    for reports in ((), (Report("lamp", "on", 0),), (Report("lamp", "off", 1),)):
        evidence = Evidence(reports, ("mend",))
        posterior = belief.posterior(evidence)
        earlier = Evidence(tuple(r for r in reports if r.epoch == 0), ("mend",))
        at_first = belief.posterior(earlier) @ belief.predict_from_initial_faults("lamp", earlier)
        now = belief.current_posterior(belief.posterior(earlier), earlier) @ belief.predict_from_current_faults("lamp", earlier)
        assert now == pytest.approx(at_first)
        assert np.isfinite(belief.current_posterior(posterior, evidence)).all()
