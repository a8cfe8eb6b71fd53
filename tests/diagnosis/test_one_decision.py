"""Safety is decided once, in the engine: every face shows the same cautions before a step, whatever was raised before.

Terminal, JSON, report and exercise are compared over every action, finding and hazard of the shipped knowledge base.
"""

from __future__ import annotations

import io
from collections.abc import Iterator

import pytest
from rich.console import Console

from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.cautions import cautions_of, is_confirmation
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.diagnosis_data import step_data
from nopost.diagnosis.history import EventKind, History, Person
from nopost.diagnosis.step_view import step_view
from nopost.knowledge.effects import Effect
from nopost.knowledge.model import Finding
from nopost.render.report import report_sections
from nopost.store.sessions import new_session
from nopost_cli.dialogue.step_screen import step_screen

Situations = list[tuple[History, Diagnosis]]


def histories(diagnostician: Diagnostician) -> Iterator[History]:
    """Nothing known; and for each hazard an answer under which a rule raises it, as far as one answer alone can."""
    yield History()
    knowledge = diagnostician.knowledge
    raised: set[str] = set()
    for finding in knowledge.findings.values():
        for answer in finding.answer_ids:
            new = diagnostician.ranker.rules.run({finding.id: answer}, {}).cautions.keys() - raised
            if new:
                raised |= new
                yield History().add(EventKind.ANSWER, finding.id, answer)


@pytest.fixture(scope="module")
def situations(diagnostician: Diagnostician) -> Situations:
    """Histories with what they come to."""
    return [(history, diagnostician.diagnose(history)) for history in histories(diagnostician)]


def steps(diagnostician: Diagnostician) -> list[Step]:
    """Every question and every action as a step, whether it would be proposed or not."""
    knowledge = diagnostician.knowledge
    asks = [Step(StepKind.ASK, finding.id, 1.0, 1.0) for finding in knowledge.findings.values() if finding.question]
    return [*asks, *(Step(StepKind.DO, action.id, 1.0, 1.0) for action in knowledge.actions.values())]


def words(text: str) -> str:
    """In one line."""
    return " ".join(text.split())


@pytest.mark.slow
def test_every_hazard_is_raised_or_belongs_to_a_step(diagnostician: Diagnostician, situations: Situations) -> None:
    """So that the comparisons below leave none out."""
    knowledge = diagnostician.knowledge
    met = {name for _, diagnosis in situations for name in diagnosis.inference.cautions}
    met |= {name for action in knowledge.actions.values() for name in action.hazards}
    met |= {name for finding in knowledge.findings.values() for name in finding.hazards}
    by_rules = {c.target for rule in knowledge.rules.values() for c in rule.then if c.effect is Effect.CAUTION}
    assert set(knowledge.hazards) - met <= by_rules


@pytest.mark.slow
def test_json_says_what_the_view_says(diagnostician: Diagnostician, situations: Situations) -> None:
    """The same cautions in the same order, in full or not, over every step in every situation."""
    for _, diagnosis in situations:
        for step in steps(diagnostician):
            view = list(cautions_of(diagnostician.knowledge, diagnosis, step))
            data = step_data(diagnostician.knowledge, diagnosis, step, Person())["cautions"]
            assert [(c["id"], c["stops_now"], c["in_full"]) for c in data] == [(v.hazard.id, v.stops, v.in_full) for v in view]


@pytest.mark.slow
def test_terminal_shows_what_the_view_says(diagnostician: Diagnostician, situations: Situations) -> None:
    """Each caution that stands in full is on the screen, word for word; each other one by its title."""
    for history, diagnosis in situations:
        for step in steps(diagnostician)[::7]:
            view = step_view(diagnostician, history, diagnosis, step)
            console = Console(file=io.StringIO(), width=400, markup=False)
            console.print(step_screen(console, "bench", view, ""))
            assert isinstance(console.file, io.StringIO)
            screen = words(console.file.getvalue())
            for caution in view.cautions:
                assert words(caution.hazard.title) in screen
                assert (words(caution.hazard.caution) in screen) == caution.in_full, (step.id, caution.hazard.id)
                if caution.stops:
                    assert f"STOP: {caution.hazard.title}" in screen


def test_report_holds_the_cautions_of_the_next_step(diagnostician: Diagnostician, situations: Situations) -> None:
    """Whoever reads the report is told what stands before the step that it proposes, and all that was raised."""
    for history, diagnosis in situations:
        view = step_view(diagnostician, history, diagnosis)
        session = new_session("bench", diagnostician.knowledge, history)
        sections = {s.title: s.lines for s in report_sections(diagnostician.knowledge, session, diagnosis, view)}
        told = set(sections.get("Cautions", ()))
        assert {caution.hazard.caution for caution in view.cautions} <= told
        assert {diagnostician.knowledge.hazards[name].caution for name in diagnosis.inference.cautions} <= told


def test_a_stop_forbids_every_powered_step(diagnostician: Diagnostician, situations: Situations) -> None:
    """While a stop stands, no step that needs power is proposed, but for the fix that the rule raising it puts first. Nor is one
    while a rule keeps it unpowered, but for its exceptions."""
    knowledge = diagnostician.knowledge
    stopped = [(history, diagnosis) for history, diagnosis in situations if diagnosis.stopped]
    assert stopped
    for _, diagnosis in stopped:
        for step in (diagnosis.advice.step, *diagnosis.advice.others):
            if step.kind is StepKind.LAST_RESORT:
                continue
            if is_confirmation(step):
                continue  # it is taken without power, whatever it is about
            item = knowledge.actions[step.id] if step.kind is StepKind.DO else knowledge.findings[step.id]
            inference, action = diagnosis.inference, item.action if isinstance(item, Finding) else ""
            danger = any(knowledge.hazards[name].stop for name in inference.cautions)
            by_rule = not danger and not inference.keeps_unpowered(step.id, action)
            assert not item.powered or step.id in inference.do_first or by_rule


def test_told_cautions_are_short_but_stops_stay(diagnostician: Diagnostician, situations: Situations) -> None:
    """What a face has told before needs only its title; a stop stands in full at every step."""
    everything = frozenset(diagnostician.knowledge.hazards)
    for _, diagnosis in situations:
        for step in steps(diagnostician):
            for caution in cautions_of(diagnostician.knowledge, diagnosis, step, told=everything):
                assert caution.in_full == caution.stops
