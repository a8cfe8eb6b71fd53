"""`nopost kb simulate`: thousands of simulated repairs, and what they take."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from nopost.knowledge.model import Knowledge
from nopost.text import comma_parts
from nopost_cli.shared.input_output import print_json
from nopost_cli.shared.options import json_option, knowledge_of, own_kb_option
from nopost_cli.shared.terminal import make_console

if TYPE_CHECKING:
    from nopost.evaluation.simulation import SimulationResult

MOST_RUNS = 100_000
NAMES = "advice, oracle, checklist, ratio, likeliest, random"
JSON_VERSION = 2
"""Version 1 had other keys and one strategy more; see the manual."""


@click.command("simulate", short_help="Simulate thousands of repairs and measure what they take.")
@click.option("--runs", type=click.IntRange(1, MOST_RUNS), default=400, show_default=True, help="Machines to draw.")
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="The same seed draws the same machines.")
@click.option("--cause", metavar="CAUSE", default="", help="Draw only machines with this cause.")
@click.option("--one-fault", is_flag=True, help="Draw no machines with two causes at once.")
@click.option("--unlisted", is_flag=True, help="Draw also machines with a cause that nobody wrote down.")
@click.option("--strategies", metavar="NAMES", default="", help=f"Only some, with commas between them: {NAMES}.")
@click.option("--by-cause", is_flag=True, help="Show every cause, not only the ten where most effort is lost.")
@click.option("--workers", type=click.IntRange(1, 61), help="Processes to use.  [default: all cores]")
@click.option("--rows", is_flag=True, help="With --json: every episode too.")
@json_option
@own_kb_option
def command(
    runs: int,
    seed: int,
    cause: str,
    one_fault: bool,
    unlisted: bool,
    strategies: str,
    by_cause: bool,
    workers: int | None,
    rows: bool,
    as_json: bool,
    kb: Path | None,
) -> None:
    """Draw faulty machines as the knowledge base says they are, and let the advice and other ways of working repair each of them.

    Every way meets the same machines with the same luck. Answers are now and then reported wrongly, fixes now and then
    fail, both as often as the knowledge base says. Effort is minutes times the rate, plus money, plus risk.
    """
    if rows and not as_json:
        raise click.UsageError("--rows goes with --json")
    wanted = tuple(comma_parts(strategies))
    knowledge = knowledge_of(kb)
    drawn = {"cause": cause, "two_faults": not one_fault, "unlisted": unlisted}
    result = _run(knowledge, kb, runs=runs, seed=seed, strategies=wanted, workers=workers, **drawn)
    if as_json:
        print_json("simulation", _data(result, rows), JSON_VERSION)
    else:
        from nopost_cli.kb.simulate_screen import show

        show(make_console(), knowledge, result, every_cause=by_cause)


def _run(knowledge: Knowledge, kb: Path | None, **asked: Any) -> SimulationResult:
    from nopost.evaluation.episode import read_checklist
    from nopost.evaluation.simulation import simulate

    checklist = read_checklist(knowledge, kb)
    console = make_console(stderr=True)
    columns = (TextColumn("Machines"), BarColumn(), TextColumn("{task.completed:.0f}/{task.total:.0f}"), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as progress:
        task = progress.add_task("", total=asked["runs"])
        return simulate(knowledge, checklist=checklist, progress=lambda done: progress.advance(task, done), **asked)


def _data(result: SimulationResult, rows: bool) -> dict[str, Any]:
    from nopost.evaluation.scores import regret_by_cause, risk_difference, summaries, total_regret

    risk, regret = risk_difference(result), total_regret(result)
    return {
        "knowledge": {"name": result.knowledge, "edition": result.edition, "digest": result.digest},
        "runs": result.runs,
        "seed": result.seed,
        "strategies": [asdict(summary) for summary in summaries(result)],
        "risky_steps": asdict(risk) if risk else None,
        "regret": asdict(regret) if regret else None,
        "regret_by_cause": [asdict(each) for each in regret_by_cause(result)],
        **({"episodes": [asdict(episode) for episode in result.episodes]} if rows else {}),
    }
