"""Every case in kb/cases is judged by its own `expect`: dropping in a file adds a test."""

from __future__ import annotations

from pathlib import Path

import pytest

from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.history import case_history
from nopost.knowledge.model import Case, Knowledge

CASES = sorted(path.stem for path in (Path(__file__).resolve().parents[2] / "kb" / "cases").glob("*.yaml"))


def assess(assessor: Diagnostician, case: Case) -> Diagnosis:
    """What the program makes of a case."""
    return assessor.diagnose(case_history(case))


def test_all_are_found(knowledge: Knowledge) -> None:
    """The files and the loaded cases are the same."""
    assert list(knowledge.cases) == CASES
    assert CASES


@pytest.mark.parametrize("name", CASES)
def test_expectation(assessor: Diagnostician, name: str) -> None:
    """Cause, rules and next step are as the case expects."""
    case = assessor.knowledge.cases[name]
    assert case.expect
    found = assess(assessor, case)
    if "cause" in case.expect:
        leading = [cause for cause, _ in found.ranking[: case.expect.get("within", 1)]]
        assert case.expect["cause"] in leading
    assert set(case.expect.get("fires", ())) <= {firing.rule for firing in found.inference.firings}
    if "next" in case.expect:
        assert found.advice.step.id == case.expect["next"]


@pytest.mark.parametrize("name", CASES)
def test_record_does_not_contradict_the_answers(assessor: Diagnostician, name: str) -> None:
    """In a case that we tell ourselves, what the records say and what was seen agree."""
    assert assess(assessor, assessor.knowledge.cases[name]).inference.contradictions == ()
