"""After an exercise, on screen."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from nopost.advice.effort import rate
from nopost.advice.step import StepKind
from nopost.cases.report import outcome_words
from nopost.drill.attempt import Attempt, Taken
from nopost.drill.debrief import Clue, Debrief
from nopost.drill.exercise import Exercise
from nopost.knowledge.model import Knowledge
from nopost_cli import screens, words
from nopost_cli.terminal import clean

GRADES = ("nothing right", "far off", "off the way", "passed", "good", "as good as the advice")


def show_debrief(console: Console, exercise: Exercise, done: Attempt, said: Debrief, named: str) -> None:
    """The cause, both ways side by side, what was lost and what was overlooked."""
    knowledge, minute = done.knowledge, rate(done.knowledge, done.person)
    console.print(screens.heading(console, "Debrief"))
    for name in exercise.causes:
        cause = knowledge.causes[name]
        console.print(screens.line("It was", f"{cause.title}.", style="bold"))
        console.print(screens.line("Learn", cause.explanation))
        console.print(screens.line("Proof", cause.proof))
    console.print(screens.line("You said", _named(knowledge, said, named)))
    ways = f"You: {_steps(len(done.taken))}, {words.minutes(said.spent / minute)}. The advice on the same machine:"
    theirs = f"{_steps(len(exercise.model.taken))}, {words.minutes(said.model_spent / minute)} (of work or its worth)."
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


def _side_by_side(knowledge: Knowledge, mine: tuple[Taken, ...], model: tuple[Taken, ...]) -> Table:
    table = Table(box=None, padding=(0, 1))
    table.add_column("", justify="right")
    table.add_column("Your steps", ratio=1)
    table.add_column("The advice's", ratio=1)
    for number in range(max(len(mine), len(model))):
        cells = (_step(knowledge, way[number]) if number < len(way) else "" for way in (mine, model))
        table.add_row(str(number + 1), *(Text(clean(cell)) for cell in cells))
    return table


def _step(knowledge: Knowledge, taken: Taken) -> str:
    if taken.kind is StepKind.ASK:
        finding = knowledge.findings[taken.id]
        return f"{finding.title}: {finding.answer_text(taken.result)}"
    title = knowledge.base.shop.title if taken.kind is StepKind.SHOP else knowledge.actions[taken.id].title
    return title if taken.kind is StepKind.SHOP else f"{title}: {outcome_words(knowledge, taken.result)}"


def _remarks(knowledge: Knowledge, said: Debrief, minute: float) -> Iterator[tuple[str, list[str]]]:
    if said.losses:
        yield "Where effort was lost", [_loss(knowledge, number, step, minute) for number, step in said.losses]
    if said.clues:
        yield "What pointed to it, and you saw it", [_clue(knowledge, clue) for clue in said.clues]
    if said.overlooked:
        yield "What would have pointed to it", [_clue(knowledge, clue) for clue in said.overlooked]


def _loss(knowledge: Knowledge, number: int, step: Taken, minute: float) -> str:
    better = knowledge.findings.get(step.best_id) or knowledge.actions.get(step.best_id)
    instead = better.title if better else knowledge.base.shop.title
    lost = words.minutes(step.loss / minute)
    return f"Step {number}, {_step(knowledge, step)}: about {lost} more than needed on average; better then: {instead}."


def _clue(knowledge: Knowledge, clue: Clue) -> str:
    finding = knowledge.findings[clue.finding]
    when = {0: "told by the owner", -1: "not looked at"}.get(clue.step, f"step {clue.step}")
    return f"{finding.title}: {finding.answer_text(clue.answer)} ({clue.decibans:+.0f} decibans, {when})"
