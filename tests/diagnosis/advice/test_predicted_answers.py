"""What a question would settle."""

from __future__ import annotations

import pytest

import small
from nopost.diagnosis.belief.evidence import Observations, Report
from nopost.diagnosis.diagnose import Diagnostician, predicted_answers
from nopost.knowledge.model import Knowledge


def lamp() -> Knowledge:
    """Two causes that a lamp tells apart."""
    causes = [
        small.cause("lead", 0.7, {"lamp": {"off": 0.9, "on": 0.1}}, {"mend": 0.9}),
        small.cause("board", 0.3, {"lamp": {"off": 0.2, "on": 0.8}}, {"mend": 0.9}),
    ]
    return small.knowledge([small.finding("lamp", {"off": 0.6, "on": 0.4})], causes, [small.fix("mend", 5.0)])


def test_predictions_are_the_diagnoses_that_would_follow() -> None:
    """The likeliest answer first; each leads where the real answer would."""
    diagnostician = Diagnostician(lamp())
    predictions = predicted_answers(diagnostician.model, diagnostician.assess(Observations()), "lamp")
    assert [p.answer for p in predictions] == ["off", "on"]
    assert sum(p.probability for p in predictions) == pytest.approx(1.0)
    for prediction in predictions:
        then = diagnostician.assess(Observations((Report("lamp", prediction.answer),))).ranking
        assert [cause for cause, _ in prediction.leading] == [cause for cause, _ in then]
        assert [p for _, p in prediction.leading] == pytest.approx([p for _, p in then])
