"""An exercise from the owner's complaint to the debrief."""

from __future__ import annotations

import random
import shlex
from datetime import date
from pathlib import Path

from rich.text import Text

from nopost.advice.assess import Assessor
from nopost.drill import scores
from nopost.drill.debrief import debrief
from nopost.drill.exercise import Exercise, draw_exercise, set_up
from nopost.drill.schedule import due
from nopost.errors import NopostError, ScoreError
from nopost.knowledge.model import Case, Knowledge
from nopost.trial.case_files import read_cases
from nopost_cli.drill.debrief_screen import show_debrief
from nopost_cli.drill.workbench import Workbench
from nopost_cli.guided import need_terminal
from nopost_cli.terminal import clean, make_console

SEEDS = 10**6


def run(knowledge: Knowledge, level: str, seed: int | None, case: str, name: str, kb: Path | None = None) -> None:
    """Set an exercise, let it be worked on, say what there is to say, and keep the score."""
    kept = scores.load(name) if name else ()
    need_terminal("nopost drill sheet prints exercises")
    exercise = _exercise(knowledge, level, seed, case, kept)
    import readline  # noqa: F401  # line editing at the prompt

    console = make_console()
    bench = Workbench(console, exercise)
    ended = bench.work()
    if ended:
        said = debrief(exercise, bench.attempt, bench.named)
        show_debrief(console, exercise, bench.attempt, said, bench.named)
        if name:
            _keep(name, scores.score_of(exercise, bench.attempt, said, bench.named, date.today()))
    else:
        console.print(Text("\nLeft; no score is kept."))
    again = _again(exercise, case, kb)
    if again:
        console.print(Text(clean(f"The same exercise again: {again}"), style="dim"))


def _exercise(knowledge: Knowledge, level: str, seed: int | None, case: str, kept: tuple[scores.Score, ...]) -> Exercise:
    """Of a case, of a seed, or drawn: what is due again comes first."""
    assessor = Assessor(knowledge)
    if case:
        found = _case(case, knowledge)
        if "cause" not in found.expect:
            raise NopostError(f"{case}: the case does not say what it turned out to be (expect: cause)")
        return set_up(assessor, [found.expect["cause"]], 0)
    if seed is not None:
        return draw_exercise(assessor, seed, level)
    weak = [cause for cause in due(scores.cards_of(kept), date.today()) if cause in knowledge.causes]
    return draw_exercise(assessor, random.SystemRandom().randrange(SEEDS), level, weak[0] if weak else "")


def _case(name: str, knowledge: Knowledge) -> Case:
    if name in knowledge.cases:
        return knowledge.cases[name]
    if not Path(name).is_file():
        raise NopostError(f"{name}: no such file, and no case of the knowledge base is called so")
    return read_cases([Path(name)], knowledge)[0]


def _again(exercise: Exercise, case: str, kb: Path | None) -> str:
    """The command that sets the same machine again; none for a cause that was due, which it would give away."""
    of_base = f" --kb {shlex.quote(str(kb))}" if kb else ""
    if case:
        return f"nopost drill --case {shlex.quote(case)}{of_base}"
    if exercise.seed is None:
        return ""
    return f"nopost drill --level {exercise.level} --seed {exercise.seed}{of_base}"


def _keep(name: str, score: scores.Score) -> None:
    console = make_console()
    try:
        scores.add(name, score)
    except ScoreError as error:
        console.print(Text(clean(f"Not kept: {error}")))
        return
    console.print(Text(clean(f"Kept for {name}. What is due: nopost drill scores {name}")))
