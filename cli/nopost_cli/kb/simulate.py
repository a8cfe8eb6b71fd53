"""`nopost kb simulate`: thousands of simulated repairs, what they take, and the tables that show it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nopost.text import comma_parts, percent
from nopost_cli.shared.options import json_option, knowledge_of, own_kb_option
from nopost_cli.shared.terminal import clean, make_console, print_json

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from nopost.evaluation.scores import Estimate, Regret, StrategySummary
    from nopost.evaluation.simulation import SimulationResult
    from nopost.knowledge.model import Knowledge

MOST_RUNS = 100_000
NAMES = "advice, oracle, checklist, ratio, likeliest, random"
JSON_VERSION = 2
"""Version 1 had other keys and one strategy more; see the manual."""
TOP = 10
SPENT = {"looks": "looks and tests", "wrong_fixes": "wrong fixes", "giving_up": "giving up", "right_fixes": "dearer right fixes"}
"""Where effort can be lost, in words."""


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
        show(make_console(), knowledge, result, every_cause=by_cause)


def _run(knowledge: Knowledge, kb: Path | None, **asked: Any) -> SimulationResult:
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

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


def show(console: Console, knowledge: Knowledge, result: SimulationResult, *, every_cause: bool) -> None:
    """All tables."""
    from nopost.evaluation.scores import summaries

    found = summaries(result)
    count = f"{result.runs} machine{'s' if result.runs != 1 else ''}"
    _say(console, f"{count} drawn from {result.knowledge!r}, edition {result.edition}, seed {result.seed}")
    _say(console, "Effort for each machine, in money: mean, its doubt (95 of 100 samples lie within ±), 90th percentile.\n")
    console.print(_efforts(found))
    for line in _ratios(found):
        _say(console, line)
    console.print()
    console.print(_counts(found))
    _say(console, "\nRisky: steps that can do damage. Live: steps with power although a sign of danger forbids it.")
    _say(console, "Mended: without the workshop. Top 1, top 3: where the true cause stands at the end.")
    _risk(console, result)
    _losses(console, knowledge, result, every_cause)


def _efforts(found: Sequence[StrategySummary]) -> Table:
    table = _table("Strategy", "Effort", "±", "90th")
    for column, other in (("× oracle", "to_oracle"), ("× list", "to_checklist")):
        if any(getattr(summary, other) for summary in found):
            table.add_column(column, justify="right", no_wrap=True)
    for summary in found:
        ratios = [f"{ratio.value:.2f}" for ratio in (summary.to_oracle, summary.to_checklist) if ratio]
        _row(table, summary, (f"{summary.effort.value:.1f}", _margin(summary.effort, 1), f"{summary.p90:.0f}", *ratios))
    return table


def _ratios(found: Sequence[StrategySummary]) -> list[str]:
    """The two figures that matter, with their doubt."""
    from nopost.evaluation.scores import ADVICE

    ours = next((summary for summary in found if summary.strategy == ADVICE), None)
    pairs = ((ours.to_oracle, "the oracle"), (ours.to_checklist, "the fixed checklist")) if ours else ()
    told = [(e.value, f" ± {e.margin:.2f}" if e.margin else "", what) for e, what in pairs if e]
    return [f"The advice takes {value:.2f}{margin} times the effort of {what}." for value, margin, what in told]


def _counts(found: Sequence[StrategySummary]) -> Table:
    table = _table("Strategy", "Looks", "Wrong fixes", "Risky", "Live", "Mended", "Top 1", "Top 3")
    for s in found:
        counts = (f"{s.questions:.1f}", f"{s.wrong_fixes:.2f}", f"{s.risky_steps:.2f}", f"{s.forbidden:.2f}")
        _row(table, s, (*counts, *(_share(share) for share in (s.repaired, s.top_one, s.top_three))))
    return table


def _risk(console: Console, result: SimulationResult) -> None:
    from nopost.evaluation.scores import risk_difference

    found = risk_difference(result)
    if found:
        text = f"For each machine the advice avoids {found.avoided:.2f} risky steps of the fixed checklist, and takes"
        _say(console, f"{text} {found.added:.2f} that the checklist does not.")


def _losses(console: Console, knowledge: Knowledge, result: SimulationResult, every_cause: bool) -> None:
    from nopost.evaluation.scores import regret_by_cause, total_regret

    total, each = total_regret(result), regret_by_cause(result)
    if total is None:
        return
    parts = ", ".join(f"{SPENT[unit]} {getattr(total, unit):+.1f}" for unit in SPENT)
    _say(console, f"\nThe advice takes {total.lost:.1f} more than the oracle: {parts}.")
    _say(console, f"Given up: {percent(total.given_up)} of the machines go to the workshop although the oracle mends them.\n")
    console.print(_loss_table(knowledge, each if every_cause else each[:TOP]))
    if not every_cause and len(each) > TOP:
        _say(console, f"... and {len(each) - TOP} more; --by-cause shows all.")


def _loss_table(knowledge: Knowledge, found: Sequence[Regret]) -> Table:
    from rich.text import Text

    table = _table("Where the advice loses most", "Seen", "Oracle", "Lost", "Share", "Given up")
    table.columns[0].min_width = 18
    table.add_column("Mostly", overflow="fold")
    for loss in found:
        name = knowledge.causes[loss.cause].title if loss.cause in knowledge.causes else loss.cause.capitalize()
        numbers = (str(loss.machines), f"{loss.oracle:.0f}", f"{loss.lost:.0f}", _share(loss.share), _share(loss.given_up))
        mostly = SPENT[loss.mostly] if loss.lost > 0 else ""
        table.add_row(*(Text(clean(cell)) for cell in (name, *numbers, mostly)))
    return table


def _table(first: str, *numbers: str) -> Table:
    from rich.table import Table

    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    table.add_column(first, overflow="fold")
    for name in numbers:
        table.add_column(name, justify="right")
    return table


def _row(table: Table, summary: StrategySummary, cells: Sequence[str]) -> None:
    from rich.text import Text

    from nopost.evaluation.scores import ADVICE
    from nopost.evaluation.strategies import STRATEGIES

    style = "bold" if summary.strategy == ADVICE else ""
    table.add_row(*(Text(cell, style=style) for cell in (STRATEGIES[summary.strategy][1], *cells)))


def _margin(estimate: Estimate, digits: int) -> str:
    return "" if estimate.margin is None else f"{estimate.margin:.{digits}f}"


def _share(share: float) -> str:
    return f"{100 * share:.0f} %"


def _say(console: Console, text: str) -> None:
    from rich.text import Text

    console.print(Text(clean(text)))
