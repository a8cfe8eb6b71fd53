"""A sign of danger stops everything that needs power at once, and is looked at once more before anything ends.

That power stays off first and the sign is made sure of afterwards: common practice, no source. Compared over every hazard of the
shipped knowledge that stops the work, and over every answer that raises one by itself.
"""

from __future__ import annotations

import io
from collections.abc import Iterator

import pytest
from rich.console import Console

from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.cautions import is_confirmation
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.diagnosis_data import step_data
from nopost.diagnosis.history import Event, EventKind, History, Person
from nopost.diagnosis.step_view import step_effort, step_view
from nopost.evaluation.simulated_machine import SimulatedMachine
from nopost.knowledge.model import UNKNOWN
from nopost.render.report import report_sections
from nopost.store.sessions import new_session
from nopost.training.exercise import Attempt
from nopost_cli.dialogue.step_screen import step_screen

Danger = tuple[str, str]


def dangers(diagnostician: Diagnostician) -> Iterator[Danger]:
    """Every answer (finding, answer) that raises a stop by itself."""
    knowledge = diagnostician.knowledge
    for finding in knowledge.findings.values():
        for answer in finding.answer_ids:
            raised = diagnostician.ranker.rules.run({finding.id: answer}, {}).cautions
            if any(knowledge.hazards[name].stop for name in raised):
                yield finding.id, answer


def told(danger: Danger) -> History:
    """Just that answer."""
    return History().add(EventKind.ANSWER, *danger)


def unsafe_steps(diagnostician: Diagnostician, found: Diagnosis) -> list[Step]:
    """What is proposed although it needs power; what only makes sure of the danger needs none."""
    knowledge = diagnostician.knowledge
    named = (found.advice.step, *found.advice.others)
    steps = [s for s in named if s.kind is not StepKind.LAST_RESORT and not is_confirmation(s)]
    items = [(knowledge.findings if s.kind is StepKind.ASK else knowledge.actions)[s.id] for s in steps]
    allowed = found.inference.do_first
    return [step for step, item in zip(steps, items, strict=True) if item.powered and step.id not in allowed]


def test_every_stop_of_the_knowledge_is_met(diagnostician: Diagnostician) -> None:
    """So that the comparisons below leave none out."""
    knowledge = diagnostician.knowledge
    met = {name for danger in dangers(diagnostician) for name in diagnostician.ranker.rules.run(dict([danger]), {}).cautions}
    assert {hazard.id for hazard in knowledge.hazards.values() if hazard.stop} <= met


def test_it_is_made_sure_of_first(diagnostician: Diagnostician) -> None:
    """The next step looks again at the answer that raised it; all power is off already, and it does not end yet."""
    for danger in dangers(diagnostician):
        found = diagnostician.diagnose(told(danger))
        step = found.advice.step
        assert (step.kind, step.id, step.look) == (StepKind.ASK, danger[0], EventKind.LOOKED_AGAIN)
        assert is_confirmation(step)
        assert found.stopped
        assert unsafe_steps(diagnostician, found) == []
        assert StepKind.LAST_RESORT not in {s.kind for s in found.advice.others}


@pytest.mark.parametrize("second", ["the same", UNKNOWN])
def test_still_so(diagnostician: Diagnostician, second: str) -> None:
    """Confirmed, or not to be told any more: the stop stands, it is not asked a third time, and it ends as it did before."""
    for danger in dangers(diagnostician):
        history = told(danger).add(EventKind.LOOKED_AGAIN, danger[0], danger[1] if second == "the same" else UNKNOWN)
        for _ in range(80):
            found = diagnostician.diagnose(history)
            step = found.advice.step
            assert found.stopped
            assert unsafe_steps(diagnostician, found) == []
            assert not is_confirmation(step)
            if step.kind is StepKind.LAST_RESORT:
                break
            kind = step.look if step.kind is StepKind.ASK else EventKind.SKIPPED
            history = history.add(kind, step.id, UNKNOWN if step.kind is StepKind.ASK else "")
        else:
            raise AssertionError(f"{danger} goes on for ever")


@pytest.mark.slow
def test_it_was_a_mistake(diagnostician: Diagnostician) -> None:
    """Another answer at the second look lifts the stop, and both reports count; undone, it stands again."""
    for danger in dangers(diagnostician):
        finding = diagnostician.knowledge.findings[danger[0]]
        harmless = next(a for a in finding.answer_ids if (finding.id, a) not in set(dangers(diagnostician)))
        history = told(danger).add(EventKind.LOOKED_AGAIN, finding.id, harmless)
        found = diagnostician.diagnose(history)
        assert not found.stopped
        reports = [(r.answer, r.again) for r in found.evidence.reports if r.finding == finding.id]
        assert reports == [(danger[1], False), (harmless, True)]
        assert diagnostician.diagnose(history.undo()).stopped


def test_an_answer_given_anew_is_made_sure_of_anew(diagnostician: Diagnostician) -> None:
    """A slip of the hand, corrected by answering again, is no second look."""
    for finding, answer in dangers(diagnostician):
        other = next(a for a in diagnostician.knowledge.findings[finding].answer_ids if a != answer)
        history = History().add(EventKind.ANSWER, finding, other).add(EventKind.ANSWER, finding, answer)
        assert is_confirmation(diagnostician.diagnose(history).advice.step)


def test_all_faces_say_the_same(diagnostician: Diagnostician) -> None:
    """Title, where to look and effort stand in the view; the terminal, JSON and the report show just them."""
    knowledge = diagnostician.knowledge
    for danger in dangers(diagnostician):
        history = told(danger)
        found = diagnostician.diagnose(history)
        view = step_view(diagnostician, history, found)
        finding = knowledge.findings[danger[0]]
        assert view.title == f"Make sure, without power: {finding.title}"
        assert f"You said “{finding.answer_text(danger[1])}”." in view.why
        assert "unplugged" in view.look
        assert (view.test, view.instructions, view.tools) == ("", (), ())
        assert [choice.id for choice in view.choices if choice.id in finding.answer_ids] == list(finding.answer_ids)
        assert any(caution.stops for caution in view.cautions)
        data = step_data(knowledge, found, found.advice.step, Person())
        assert (data["title"], data["again"]) == (view.title, True)
        effort = step_effort(knowledge, found.advice.step, found.seen.ready, Person())
        assert data["effort"]["minutes"] == effort.minutes == finding.effort.minutes + knowledge.base.exchange.minutes
        console = Console(file=io.StringIO(), width=400, markup=False)
        console.print(step_screen(console, "bench", view, ""))
        assert isinstance(console.file, io.StringIO)
        assert view.title in console.file.getvalue()
        lines = {s.title: s.lines for s in report_sections(knowledge, new_session("bench", knowledge, history), found, view)}
        assert any(view.title in line for section in lines.values() for line in section)


def test_an_exercise_can_follow_it(diagnostician: Diagnostician) -> None:
    """On the bench of an exercise, looking at it again is a second look as well, and the advice goes on from there."""
    for danger in dangers(diagnostician):
        cause = next(iter(diagnostician.knowledge.causes))
        machine = SimulatedMachine(diagnostician.model, [cause], 1)
        history = History().with_event(Event(EventKind.ANSWER, *danger))
        attempt = Attempt(diagnostician, machine, Person(), history, ())
        step = attempt.diagnosis().advice.step
        after = attempt.take(step.kind, step.id)
        assert after.history.events[-1].kind is EventKind.LOOKED_AGAIN
        assert not is_confirmation(after.diagnosis().advice.step)
