"""Every case in kb/cases is judged by its own `expect`: dropping in a file adds a test."""

from __future__ import annotations

from pathlib import Path

import pytest

from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.history import case_history
from nopost.knowledge.model import Knowledge

CASES = sorted(path.stem for path in (Path(__file__).resolve().parents[2] / "kb" / "cases").glob("*.yaml"))


def test_all_are_found(knowledge: Knowledge) -> None:
    """The files and the loaded cases are the same."""
    assert list(knowledge.cases) == CASES
    assert CASES


@pytest.mark.parametrize("name", CASES)
def test_expectation(diagnostician: Diagnostician, name: str) -> None:
    """Cause, rules and next step are as the case expects; and as we tell it ourselves, records and answers agree."""
    case = diagnostician.knowledge.cases[name]
    assert case.expect
    found = diagnostician.diagnose(case_history(case))
    assert found.inference.contradictions == ()
    if "cause" in case.expect:
        leading = [cause for cause, _ in found.ranking[: case.expect.get("within", 1)]]
        assert case.expect["cause"] in leading
    assert set(case.expect.get("fires", ())) <= {firing.rule for firing in found.inference.firings}
    if "next" in case.expect:
        assert found.advice.step.id == case.expect["next"]
