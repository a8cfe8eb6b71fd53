"""`nopost drill`: exercises for apprentices. Without a command it sets one; its commands are in modules of their names.

An exercise goes from the owner's complaint to the debrief: it is set, worked on at the `workbench`, both ways are shown side by
side, and the score is kept.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from nopost import text
from nopost.errors import NopostError, ScoreError
from nopost_cli.shared.lazy import LazyGroup
from nopost_cli.shared.options import kb_option, knowledge_of
from nopost_cli.shared.prompts import need_terminal
from nopost_cli.shared.terminal import clean, edit_lines, make_console

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from nopost.knowledge.model import Case, Knowledge
    from nopost.training import progress
    from nopost.training.exercise import Attempt, Clue, Debrief, Exercise, TakenStep

COMMANDS = {
    "sheet": "Print exercises and answer sheets.",
    "scores": "Show what someone has done, and what is due again.",
}
"""Command -> its line in the help."""
MOST_SEED = 2**31
SEEDS = 10**6
GRADES = ("nothing right", "far off", "off the way", "passed", "good", "as good as the advice")


@click.group("drill", cls=LazyGroup, package="nopost_cli.drill", commands_of=COMMANDS, invoke_without_command=True)
@click.option("--level", type=click.Choice(["first", "second", "third"]), default="first", show_default=True, help="How hard.")
@click.option("--seed", type=click.IntRange(0, MOST_SEED), help="The same exercise for a whole class.")
@click.option("--case", "case", metavar="FILE|CASE", default="", help="Take the fault of a case instead of drawing one.")
@click.option("--name", metavar="NAME", default="", help="Name or initials, to keep the score and to practise weak spots again.")
@kb_option
@click.pass_context
def command(ctx: click.Context, level: str, seed: int | None, case: str, name: str, kb: Path | None) -> None:
    """Find the fault of a simulated machine: look, test and mend; every step costs its effort.

    At the end your steps stand beside those of the advice: where effort was lost, and which evidence was overlooked. With --name
    scores are kept, and what went badly comes again sooner.
    """
    if ctx.invoked_subcommand:
        return
    if case and seed is not None:
        raise click.UsageError("--seed draws a fault and --case gives one: leave one of them out")
    run_exercise(knowledge_of(kb), level, seed, case, name, kb)


def run_exercise(knowledge: Knowledge, level: str, seed: int | None, case: str, name: str, kb: Path | None = None) -> None:
    """Set an exercise, let it be worked on, say what there is to say, and keep the score."""
    from rich.text import Text

    from nopost.training import progress
    from nopost.training.exercise import debrief
    from nopost_cli.drill.workbench import Workbench

    kept = progress.load_scores(name) if name else ()
    need_terminal("nopost drill sheet prints exercises")
    exercise = _exercise(knowledge, level, seed, case, kept)
    edit_lines()
    console = make_console()
    bench = Workbench(console, exercise)
    ended = bench.work()
    if ended:
        said = debrief(exercise, bench.attempt, bench.named)
        show_debrief(console, exercise, bench.attempt, said, bench.named)
        if name:
            _keep(name, progress.score_of(exercise, bench.attempt, said, bench.named, date.today()))
    else:
        console.print(Text("\nLeft; no score is kept."))
    again = _again(exercise, case, kb)
    if again:
        console.print(Text(clean(f"The same exercise again: {again}"), style="dim"))


def _exercise(knowledge: Knowledge, level: str, seed: int | None, case: str, kept: tuple[progress.Score, ...]) -> Exercise:
    """Of a case, of a seed, or drawn: what is due again comes first."""
    import random

    from nopost.diagnosis.diagnose import Diagnostician
    from nopost.training import progress
    from nopost.training.exercise import draw_exercise, set_up_exercise

    diagnostician = Diagnostician(knowledge)
    if case:
        found = _case(case, knowledge)
        if "cause" not in found.expect:
            raise NopostError(f"{case}: the case does not say what it turned out to be (expect: cause)")
        return set_up_exercise(diagnostician, [found.expect["cause"]], 0)
    if seed is not None:
        return draw_exercise(diagnostician, seed, level)
    weak = [cause for cause in progress.due_causes(progress.cards_of(kept), date.today()) if cause in knowledge.causes]
    return draw_exercise(diagnostician, random.SystemRandom().randrange(SEEDS), level, weak[0] if weak else "")


def _case(name: str, knowledge: Knowledge) -> Case:
    from nopost.evaluation.case_files import read_cases

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


def _keep(name: str, score: progress.Score) -> None:
    from rich.text import Text

    from nopost.training import progress

    console = make_console()
    try:
        progress.add_score(name, score)
    except ScoreError as error:
        console.print(Text(clean(f"Not kept: {error}")))
        return
    console.print(Text(clean(f"Kept for {name}. What is due: nopost drill scores {name}")))


def show_debrief(console: Console, exercise: Exercise, done: Attempt, said: Debrief, named: str) -> None:
    """The cause, both ways side by side, what was lost and what was overlooked."""
    from rich.text import Text

    from nopost.diagnosis.history import minute_rate
    from nopost_cli.shared import screens

    knowledge, minute = done.knowledge, minute_rate(done.knowledge, done.person)
    console.print(screens.heading(console, "Debrief"))
    for name in exercise.causes:
        cause = knowledge.causes[name]
        console.print(screens.line("It was", f"{cause.title}.", style="bold"))
        console.print(screens.line("Learn", cause.explanation))
        console.print(screens.line("Proof", cause.proof))
    console.print(screens.line("You said", _named(knowledge, said, named)))
    ways = f"You: {_steps(len(done.taken))}, {text.minutes(said.spent / minute)}. The advice on the same machine:"
    theirs = f"{_steps(len(exercise.model.taken))}, {text.minutes(said.model_spent / minute)} (of work or its worth)."
    console.print(screens.line("Effort", f"{ways} {theirs}"))
    if said.slips or done.hints:
        console.print(screens.line("Care", f"Steps against a caution or a rule: {said.slips}. Hints: {done.hints}."))
    console.print(screens.line("Score", f"{said.quality} of 5: {GRADES[said.quality]}", style="bold"))
    console.print(_side_by_side(knowledge, done.taken, exercise.model.taken))
    for title, lines in _remarks(knowledge, said, minute):
        console.print(Text(f"\n{title}", style="bold"), screens.numbered(lines, mark="-"), sep="\n")


def _steps(count: int) -> str:
    return f"{count} step{'' if count == 1 else 's'}"


def _named(knowledge: Knowledge, said: Debrief, named: str) -> str:
    if not named:
        return "You named no cause."
    return f"{knowledge.causes[named].title}. {'That is right.' if said.named else 'It was another one.'}"


def _side_by_side(knowledge: Knowledge, mine: tuple[TakenStep, ...], model: tuple[TakenStep, ...]) -> Table:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, padding=(0, 1))
    table.add_column("", justify="right")
    table.add_column("Your steps", ratio=1)
    table.add_column("The advice's", ratio=1)
    for number in range(max(len(mine), len(model))):
        cells = (_step(knowledge, way[number]) if number < len(way) else "" for way in (mine, model))
        table.add_row(str(number + 1), *(Text(clean(cell)) for cell in cells))
    return table


def _step(knowledge: Knowledge, taken: TakenStep) -> str:
    from nopost.diagnosis.advice.adviser import StepKind
    from nopost.diagnosis.history_words import outcome_words

    if taken.kind is StepKind.ASK:
        finding = knowledge.findings[taken.id]
        return f"{finding.title}: {finding.answer_text(taken.result)}"
    title = knowledge.base.shop.title if taken.kind is StepKind.LAST_RESORT else knowledge.actions[taken.id].title
    return title if taken.kind is StepKind.LAST_RESORT else f"{title}: {outcome_words(knowledge, taken.result)}"


def _remarks(knowledge: Knowledge, said: Debrief, minute: float) -> Iterator[tuple[str, list[str]]]:
    if said.losses:
        yield "Where effort was lost", [_loss(knowledge, number, step, minute) for number, step in said.losses]
    if said.clues:
        yield "What pointed to it, and you saw it", [_clue(knowledge, clue) for clue in said.clues]
    if said.overlooked:
        yield "What would have pointed to it", [_clue(knowledge, clue) for clue in said.overlooked]


def _loss(knowledge: Knowledge, number: int, step: TakenStep, minute: float) -> str:
    better = knowledge.findings.get(step.best_id) or knowledge.actions.get(step.best_id)
    instead = better.title if better else knowledge.base.shop.title
    lost = text.minutes(step.loss / minute)
    return f"Step {number}, {_step(knowledge, step)}: about {lost} more than needed on average; better then: {instead}."


def _clue(knowledge: Knowledge, clue: Clue) -> str:
    finding = knowledge.findings[clue.finding]
    when = {0: "told by the owner", -1: "not looked at"}.get(clue.step, f"step {clue.step}")
    return f"{finding.title}: {finding.answer_text(clue.answer)} ({clue.decibans:+.0f} decibans, {when})"
