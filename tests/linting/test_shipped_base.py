"""The shipped knowledge base under the closer look."""

from __future__ import annotations

import pytest

from nopost.files import data_dir
from nopost.knowledge.model import Knowledge
from nopost.knowledge.problem import Severity
from nopost.linting.runner import LINT_STEPS, LintResult, lint


class Told:
    """Counts the steps that are told."""

    def __init__(self) -> None:
        self.steps = 0

    def __call__(self) -> None:
        self.steps += 1


@pytest.fixture(scope="module")
def looked() -> tuple[LintResult, Told]:
    """Its check, and how many steps were told."""
    told = Told()
    return lint(data_dir("kb"), told), told


def test_no_errors(looked: tuple[LintResult, Told]) -> None:
    """Warnings are matters of judgement; errors are not shipped."""
    assert [str(problem) for problem in looked[0].problems if problem.severity is Severity.ERROR] == []


def test_every_step_is_told(looked: tuple[LintResult, Told]) -> None:
    """So that a bar ends where the work does."""
    assert looked[1].steps == LINT_STEPS


def test_hazards_that_threaten_steps_say_which(knowledge: Knowledge) -> None:
    """Firmware writes, work inside, live measuring, cells and supplies, at least."""
    wanted = {"no-power-cut", "unplug", "esd", "live-test", "coin-cell", "never-open-supply", "mains-wiring", "pressure"}
    assert wanted <= {hazard.id for hazard in knowledge.hazards.values() if hazard.applies}
