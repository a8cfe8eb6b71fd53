"""Rounds of looks on one screen: answered in any order, each or none, and taken back one by one."""

from __future__ import annotations

import functools
import io

import pytest
from rich.console import Console

from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.history import EventKind, History
from nopost.diagnosis.step_view import step_view
from nopost.evaluation.answer_sheets import sound_answers
from nopost.store.sessions import new_session
from nopost_cli.dialogue.dialogue import Dialogue
from nopost_cli.dialogue.step_screen import step_screen
from nopost_cli.shared.lettered import read_lettered
from shipped import shipped_knowledge

BEFORE = ("worked-then-stopped", "new-build", "after-cpu-change", "after-memory-change", "after-graphics-change")
"""What came before the trouble: with one of these a round comes up within some steps."""
MOST_STEPS = 12


@functools.cache
def seen() -> History:
    """The first state in which several looks go together, on the way of a machine that gives no picture and is sound else."""
    knowledge = shipped_knowledge()
    diagnostician, sound = Diagnostician(knowledge), sound_answers(knowledge)
    for before in BEFORE:
        told = {**sound, "occasion": before, "screen": "no-signal"}
        history = History()
        for _ in range(MOST_STEPS):
            step = diagnostician.diagnose(history).advice.step
            if step.kind is StepKind.ASK and step.together:
                return history
            kind, came = (EventKind.ANSWER, told[step.id]) if step.kind is StepKind.ASK else (EventKind.TRIED, "same")
            history = history.add(kind, step.id, came)
    raise AssertionError("no state with a round was found")


def talk(diagnostician: Diagnostician, *typed: str) -> tuple[dict[str, str], str]:
    """What is known after these lines, beside what was seen before, and the screens."""
    console = Console(file=io.StringIO(), width=80, markup=False, emoji=False, highlight=False)
    session = new_session("round", diagnostician.knowledge).with_history(seen())
    lines = iter(typed)

    def read() -> str:
        try:
            return next(lines)
        except StopIteration:
            raise EOFError from None

    dialogue = Dialogue(diagnostician, session, console, read, lambda session: session)
    dialogue.run()
    known = {event.item: event.value for event in dialogue.history.events[len(seen().events) :]}
    assert isinstance(console.file, io.StringIO)
    return known, console.file.getvalue()


def test_a_round_shows_each_look_with_its_choices(diagnostician: Diagnostician) -> None:
    """Within 24 rows, numbers for looks and letters for answers."""
    diagnosis = diagnostician.diagnose(seen())
    view = step_view(diagnostician, seen(), diagnosis)
    assert [look.id for look in view.looks] == [diagnosis.advice.step.id, *diagnosis.advice.step.together]
    assert len(view.looks) > 1
    console = Console(file=io.StringIO(), width=80)
    console.print(step_screen(console, "bench", view, ""))
    assert isinstance(console.file, io.StringIO)
    screen = console.file.getvalue()
    assert all(look.title.split("?")[0][:30] in screen for look in view.looks)
    assert screen.count("\n") <= 24


def test_all_at_once_in_any_order(diagnostician: Diagnostician) -> None:
    """Two pairs on one line."""
    looks = step_view(diagnostician, seen(), diagnostician.diagnose(seen())).looks
    known, _ = talk(diagnostician, "2a 1b")
    assert known == {looks[1].id: looks[1].choices[0].id, looks[0].id: looks[0].choices[1].id}


def test_one_alone_a_dash_and_undo(diagnostician: Diagnostician) -> None:
    """One look may be answered alone; a dash is: can't tell; undo takes back one."""
    first, second, *_ = step_view(diagnostician, seen(), diagnostician.diagnose(seen())).looks
    assert talk(diagnostician, "1a")[0] == {first.id: first.choices[0].id}
    assert talk(diagnostician, "1a2-")[0] == {first.id: first.choices[0].id, second.id: "unknown"}
    assert talk(diagnostician, "1a 2a", "u")[0] == {first.id: first.choices[0].id}


def test_skipping_skips_all(diagnostician: Diagnostician) -> None:
    """One key for the whole round."""
    looks = step_view(diagnostician, seen(), diagnostician.diagnose(seen())).looks
    assert talk(diagnostician, "s")[0] == {look.id: "unknown" for look in looks}


@pytest.mark.parametrize(("typed", "said"), [("9a", "no number 9"), ("1z", "1 goes from a to"), ("2", "such as 2a")])
def test_what_is_no_answer_is_told(diagnostician: Diagnostician, typed: str, said: str) -> None:
    """And nothing is taken."""
    known, screen = talk(diagnostician, typed)
    assert known == {}
    assert said in " ".join(screen.split())


def test_lettered_lines() -> None:
    """Blanks and commas part the pairs, or nothing; words are no pairs."""
    entries = [("a", ("x", "y")), ("b", ("z",))]
    assert read_lettered(" 1B,2a ", entries).told == {"a": "y", "b": "z"}
    assert read_lettered("1a1b", entries).told == {"a": "y"}
    assert read_lettered("why", entries).other
