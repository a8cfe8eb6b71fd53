"""Random walks through the dialogue, without a terminal: whatever is typed, it goes on, ends, or is left."""

from __future__ import annotations

import io
import random
from collections.abc import Iterator

import pytest
from rich.console import Console

from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.history import EventKind, History, Person
from nopost.diagnosis.step_view import step_view
from nopost.errors import SessionError
from nopost.store.sessions import Session, new_session
from nopost_cli.dialogue.dialogue import Dialogue
from nopost_cli.dialogue.step_screen import step_screen

TYPED = ["1", "2", "3", "4", "5", "s", "u", "w", "c", "o", "t", "?", "", "memory", "fan", "no", "zzz", "starts", "12", "%s"]


def walk(
    diagnostician: Diagnostician, lines: Iterator[str], refuse: float = 0.0, width: int = 80, seed: int = 0
) -> tuple[Session, str]:
    """Run the dialogue on these lines with a disk that refuses now and then; the session held at the end, and the screen."""
    rng = random.Random(seed)
    console = Console(file=io.StringIO(), width=width, markup=False, emoji=False, highlight=False)

    def read() -> str:
        try:
            return next(lines)
        except StopIteration:
            raise EOFError from None

    def keep(session: Session) -> Session:
        if rng.random() < refuse:
            raise SessionError("full")
        return session

    dialog = Dialogue(diagnostician, new_session("walk", diagnostician.knowledge), console, read, keep)
    dialog.run()
    assert isinstance(console.file, io.StringIO)
    return dialog.kept.session, console.file.getvalue()


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12))
def test_random_walk(diagnostician: Diagnostician, seed: int) -> None:
    """Sixty lines at random, in windows from very narrow to wide."""
    rng = random.Random(seed)
    width = rng.choice([20, 40, 80, 200])
    _, screen = walk(diagnostician, iter(rng.choices(TYPED, k=60)), rng.choice([0.0, 0.3, 1.0]), width, seed)
    assert "Kept. Go on with" in screen or "To go on from here" in " ".join(screen.split()) or "To pass it on" in screen


@pytest.mark.slow
def test_every_question_has_a_screen(diagnostician: Diagnostician) -> None:
    """Each question can be shown, also one that would not be asked now, with each of its answers."""
    history = History()
    diagnosis = diagnostician.diagnose(history)
    for finding in diagnostician.knowledge.findings.values():
        console = Console(file=io.StringIO(), width=200, markup=False)
        step = diagnostician.step_for(diagnosis, StepKind.ASK, finding.id, Person())
        console.print(step_screen(console, "walk", step_view(diagnostician, history, diagnosis, step), ""))
        assert isinstance(console.file, io.StringIO)
        for text in (finding.question, *(answer.text for answer in finding.answers)):
            assert " ".join(text.split()) in " ".join(console.file.getvalue().split()), finding.id


@pytest.mark.slow
@pytest.mark.parametrize("name", ["beeps", "memory-slots", "standby-voltage", "last-update"])
def test_telling(diagnostician: Diagnostician, name: str) -> None:
    """A question called up by a word is answered like any other."""
    findings = [f for f in diagnostician.knowledge.findings.values() if f.question]
    matching = [f.id for f in findings if name in f"{f.id} {f.title} {f.question}".casefold()]
    answers = diagnostician.knowledge.findings[name].answer_ids
    session, _ = walk(diagnostician, iter(["t", name, str(matching.index(name) + 1), "?", "", str(len(answers)), "q"]))
    assert [(e.kind, e.item, e.value) for e in session.history.events] == [(EventKind.ANSWER, name, answers[-1])]


@pytest.mark.slow
def test_skipping_everything_ends_at_the_shop(diagnostician: Diagnostician) -> None:
    """Who can tell nothing and do nothing comes to the shop in the end, and is told what to bring."""
    _, screen = walk(diagnostician, iter(["s"] * 180 + ["1"]))
    assert "The shop is the last step" in screen
    assert diagnostician.knowledge.base.shop.hand_over[0][:30] in screen


@pytest.mark.slow
def test_nothing_helps(diagnostician: Diagnostician) -> None:
    """Every fix leaves everything as it was: it ends at the shop and never proposes a fix twice."""
    session, _ = walk(diagnostician, iter(["2"] * 100))
    tried = [event.item for event in session.history.events if event.kind is EventKind.TRIED]
    assert len(tried) == len(set(tried))
