"""Exercises: drawn by a seed, worked on, and what is said of them."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

import small
from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.diagnose import Diagnostician
from nopost.errors import ScoreError
from nopost.knowledge.model import Combine, Knowledge
from nopost.training import progress
from nopost.training.exercise import (
    LEVELS,
    Attempt,
    Exercise,
    begin_attempt,
    debrief,
    draw_exercise,
    play_by_advice,
    reason_against,
    set_up_exercise,
)
from nopost.training.exercise_sheet import html_sheets, markdown_sheets, sheet_of


def tiny() -> Knowledge:
    """Two causes that one look tells apart for certain, and a fix for each that always helps."""
    lamp = small.finding("lamp", {"dark": 0.5, "lit": 0.5}, Combine.EITHER, misreport=1e-6, cost=1.0)
    causes = [
        small.cause("loose", 1.0, {"lamp": {"dark": 0.0, "lit": 1.0}}, {"press": 1.0}),
        small.cause("dead", 1.0, {"lamp": {"dark": 1.0, "lit": 0.0}}, {"swap": 1.0}),
    ]
    actions = [small.fix("press", 10.0), small.fix("swap", 10.0)]
    return small.knowledge([lamp], causes, actions, base_=small.base(two_faults=0.001))


@pytest.fixture(scope="module")
def bench() -> Diagnostician:
    """The tiny knowledge."""
    return Diagnostician(tiny())


@pytest.mark.slow
def test_a_seed_sets_the_same_exercise(diagnostician: Diagnostician) -> None:
    """For the whole class: the same causes, complaint and way of the advice; another seed sets another one."""
    first, again = draw_exercise(diagnostician, 5, "first"), draw_exercise(diagnostician, 5, "first")
    assert (first.causes, first.attempt.told) == (again.causes, again.attempt.told)
    assert [step.id for step in first.model.taken] == [step.id for step in again.model.taken]
    assert len({draw_exercise(diagnostician, seed, "first").causes for seed in range(4)}) > 1


@pytest.mark.slow
@pytest.mark.parametrize("level", list(LEVELS))
def test_levels_hold(diagnostician: Diagnostician, level: str) -> None:
    """The advice gets each machine going in a number of steps that belongs to the level."""
    low, high = LEVELS[level]
    model = draw_exercise(diagnostician, 1, level).model
    assert model.ended == "starts"
    assert low <= len(model.taken) <= high


@pytest.mark.slow
def test_a_cause_to_practise(diagnostician: Diagnostician) -> None:
    """What is due is drawn, and no seed gives it away."""
    exercise = draw_exercise(diagnostician, 3, "first", "memory-not-seated")
    assert exercise.causes == ("memory-not-seated",)
    assert exercise.seed is None


def test_the_advice_loses_nothing(diagnostician: Diagnostician) -> None:
    """Beside itself the advice has no loss, and the best score when the cause is named."""
    exercise = draw_exercise(diagnostician, 2, "first")
    said = debrief(exercise, exercise.model, exercise.causes[0])
    assert (said.losses, said.slips, said.quality) == ((), 0, 5)


def exercise_of(bench: Diagnostician, cause: str) -> Exercise:
    """The tiny machine with this cause."""
    return set_up_exercise(bench, [cause], 1)


def test_losses_by_hand(bench: Diagnostician) -> None:
    """Fix first: 10 + half of 10 = 15 beyond looking first: 1 + 10 = 11 (nearly: pairs and the unlisted cause weigh a little)."""
    start = exercise_of(bench, "dead").attempt
    done = start.take(StepKind.DO, "press")
    assert done.taken[0].loss == pytest.approx(4.0, abs=0.7)
    assert done.taken[0].best_id == "lamp"
    assert start.take(StepKind.ASK, "lamp").taken[0].loss == 0.0


def test_debrief_of_a_poor_attempt(bench: Diagnostician) -> None:
    """The wrong fix first, never looked, the wrong name, a hint: told one by one."""
    exercise = exercise_of(bench, "dead")
    done = exercise.attempt.hinted().take(StepKind.DO, "press").take(StepKind.DO, "swap")
    said = debrief(exercise, done, "loose")
    assert done.ended == "starts"
    assert (said.spent, said.model_spent) == (20.0, 11.0)
    assert [clue.finding for clue in said.overlooked] == ["lamp"]
    assert [number for number, _ in said.losses] == [1]
    assert said.quality == 3 - 1 - 1


def test_shop_instead_of_repair(bench: Diagnostician) -> None:
    """Giving it away is no pass when the advice would have repaired it."""
    exercise = exercise_of(bench, "loose")
    assert debrief(exercise, exercise.attempt.take(StepKind.LAST_RESORT, "shop"), "loose").quality <= 2


def test_going_against_a_stop(diagnostician: Diagnostician) -> None:
    """A wet machine is not switched on: who does it slips, and is told why."""
    attempt = begin_attempt(diagnostician, ["liquid-damage"], 1)
    attempts = (begin_attempt(diagnostician, ["liquid-damage"], seed) for seed in range(50))
    wet = next(each for each in attempts if dict(each.told)["danger-signs"] == "liquid")
    powered = next(a.id for a in diagnostician.knowledge.actions.values() if a.kind == "fix" and a.powered and not a.closed)
    against = wet.against(StepKind.DO, powered)
    assert against
    assert reason_against(diagnostician.knowledge, against)
    assert wet.take(StepKind.DO, powered).taken[0].against == against
    assert attempt.against(StepKind.LAST_RESORT, "shop") == ""


def test_play_ends(bench: Diagnostician) -> None:
    """A machine with a cause that nobody wrote down ends in the shop."""
    assert play_by_advice(begin_attempt(bench, [], 1)).ended == "shop"


def score(quality: int = 4) -> progress.Score:
    """A score."""
    return progress.Score("2031-05-17", 7, "first", ("loose",), "loose", "starts", 3, 12.0, 11.0, 0, 0, quality)


def test_scores_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is added is read back, and its card is due the next day."""
    monkeypatch.setenv("NOPOST_HOME", str(tmp_path))
    progress.add_score("A. B", score())
    progress.add_score("A. B", score(5))
    assert progress.load_scores("A. B") == (score(), score(5))
    assert progress.apprentices() == ["A. B"]
    assert progress.cards_of(progress.load_scores("A. B"))["loose"].due == date(2031, 5, 23)


@pytest.mark.parametrize("name", ["", "../x", "a/b", ".hidden", "x" * 99, "a\nb"])
def test_names_that_are_no_file(name: str) -> None:
    """Are refused."""
    with pytest.raises(ScoreError, match="cannot be a name"):
        progress.load_scores(name)


@pytest.mark.parametrize("text", ["", "{", "[]", '{"format": "nopost-drill"}', "\xff", '{"format": "x", "version": 2}'])
def test_damaged_scores(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    """One clear line, and nothing is written over them."""
    monkeypatch.setenv("NOPOST_HOME", str(tmp_path))
    path = tmp_path / "drill" / "ab.json"
    path.parent.mkdir()
    path.write_text(text, encoding="latin-1")
    for what in (lambda: progress.load_scores("ab"), lambda: progress.add_score("ab", score())):
        with pytest.raises(ScoreError, match=r"ab\.json"):
            what()
    assert path.read_text(encoding="latin-1") == text


def test_a_day_that_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The thirtieth of February is told."""
    monkeypatch.setenv("NOPOST_HOME", str(tmp_path))
    progress.add_score("ab", score())
    path = progress.score_path("ab")
    data = json.loads(path.read_text())
    data["attempts"][0]["day"] = "2031-02-30"
    path.write_text(json.dumps(data))
    with pytest.raises(ScoreError, match="2031-02-30"):
        progress.cards_of(progress.load_scores("ab"))


@pytest.mark.slow
def test_sheets(diagnostician: Diagnostician) -> None:
    """What was seen stands on the exercise, the cause only on the answers; markup in them is no markup."""
    exercise = draw_exercise(diagnostician, 1, "first")
    sheet = sheet_of(exercise, 1)
    title = diagnostician.knowledge.causes[exercise.causes[0]].title
    text = markdown_sheets(diagnostician.knowledge, [sheet], 1, answers=True)
    paper, answers = text.split("## Answers to exercise 1")
    assert title not in paper
    assert title in answers
    assert "## Answers" not in markdown_sheets(diagnostician.knowledge, [sheet], 1, answers=False)
    page = html_sheets(diagnostician.knowledge, [sheet], 1, answers=True)
    assert page.count("<section") == 2
    assert len(sheet.seen) >= 3


def test_attempt_is_a_value(bench: Diagnostician) -> None:
    """Taking a step leaves the attempt before it as it was."""
    start: Attempt = exercise_of(bench, "dead").attempt
    start.take(StepKind.ASK, "lamp")
    assert (start.taken, start.spent, start.ended) == ((), 0, "")
