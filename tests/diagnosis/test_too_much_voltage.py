"""A supply that gives too much: nothing that needs power until it is out, and nothing is held against the next one.

Limits of the voltages: desktop power supply design guide 336521 rev 2.0, Table 4-2. That a supply above it is taken out
before anything else: common practice, no source.
"""

from __future__ import annotations

import pytest

from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.cautions import is_confirmation
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.history import EventKind, History
from nopost.diagnosis.replay import replay

HAZARD = "too-much-voltage"


READ = {"standby-voltage": ("nothing", "high"), "main-rails": ("restarts", "one-high")}
"""What is measured -> what the machine does at the button, and what the meter shows."""


@pytest.fixture(params=READ)
def measured(request: pytest.FixtureRequest, diagnostician: Diagnostician) -> History:
    """A dead machine, and a voltage above its limit, read twice."""
    session = History()
    response, shown = READ[request.param]
    answers = {"danger-signs": "none", "occasion": "new-build", "response": response, request.param: shown}
    for finding, answer in answers.items():
        session = session.add(EventKind.ANSWER, finding, answer)
    return session.add(EventKind.LOOKED_AGAIN, request.param, shown)


def assessed(diagnostician: Diagnostician, session: History) -> Diagnosis:
    """What follows."""
    return diagnostician.assess(replay(session, diagnostician.knowledge))


def powered(diagnostician: Diagnostician, assessment: Diagnosis) -> list[str]:
    """Steps named that need power."""
    knowledge = diagnostician.knowledge
    steps = [s for s in (assessment.advice.step, *assessment.advice.others) if s.kind is not StepKind.LAST_RESORT]
    items = [(knowledge.findings if s.kind is StepKind.ASK else knowledge.actions)[s.id] for s in steps]
    return [item.id for item, step in zip(items, steps, strict=True) if item.powered and not is_confirmation(step)]


def test_the_supply_comes_out_first(diagnostician: Diagnostician, measured: History) -> None:
    """Before another rule's fix too; of what needs power only this is named."""
    for session in (measured, measured.add(EventKind.ANSWER, "clear-jumper", "clear-place")):
        found = assessed(diagnostician, session)
        assert found.advice.step.id == "replace-supply"
        assert set(powered(diagnostician, found)) == {"replace-supply"}
        assert 0 < found.advice.step.success_probability < 1


def test_who_cannot_replace_it_is_led_to_nothing_that_needs_power(diagnostician: Diagnostician, measured: History) -> None:
    """Whatever else is skipped or answered on the way, until it ends at the shop."""
    session = measured.add(EventKind.SKIPPED, "replace-supply", "")
    for _ in range(60):
        found = assessed(diagnostician, session)
        assert powered(diagnostician, found) == []
        step = found.advice.step
        if step.kind is StepKind.LAST_RESORT:
            return
        kind = step.look if step.kind is StepKind.ASK else EventKind.SKIPPED
        session = session.add(kind, step.id, "unknown" if step.kind is StepKind.ASK else "")
    raise AssertionError("it goes on for ever")


def test_burnt_and_too_much(diagnostician: Diagnostician, measured: History) -> None:
    """Another danger that forbids power forbids this fix too."""
    found = assessed(diagnostician, measured.add(EventKind.ANSWER, "danger-signs", "burnt-smell-or-smoke"))
    assert powered(diagnostician, found) == []


@pytest.mark.slow
@pytest.mark.parametrize("outcome", ["same", "changed"])
def test_the_next_supply_starts_clean(diagnostician: Diagnostician, measured: History, outcome: str) -> None:
    """Once it was replaced the old reading says nothing any more."""
    found = assessed(diagnostician, measured.add(EventKind.TRIED, "replace-supply", outcome))
    assert HAZARD not in found.inference.cautions
    assert not found.stopped
    assert found.advice.step.id != "replace-supply"
    assert dict(found.ranking)["psu-weak-or-protection"] < 0.3
