"""Every case in kb/cases is judged by its own `expect`: dropping in a file adds a test."""

from __future__ import annotations

from pathlib import Path

import pytest

from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.history import case_observations
from nopost.firmware.record_facts import record_facts
from nopost.firmware.records import records_of
from nopost.knowledge.model import Case, Knowledge

CASES = sorted(path.stem for path in (Path(__file__).resolve().parents[2] / "kb" / "cases").glob("*.yaml"))


def assess(assessor: Diagnostician, case: Case) -> Diagnosis:
    """What the program makes of a case."""
    facts = record_facts(records_of(case.records, assessor.knowledge))
    return assessor.assess(case_observations(case, facts, assessor.knowledge))


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
    assert set(case.expect.get("fires", ())) <= {firing.rule for firing in found.outcome.firings}
    if "next" in case.expect:
        assert found.advice.step.id == case.expect["next"]


@pytest.mark.parametrize("name", CASES)
def test_record_does_not_contradict_the_answers(assessor: Diagnostician, name: str) -> None:
    """In a case that we tell ourselves, what the records say and what was seen agree."""
    assert assess(assessor, assessor.knowledge.cases[name]).outcome.contradictions == ()
