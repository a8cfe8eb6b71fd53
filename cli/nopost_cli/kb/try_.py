"""`nopost kb try`: the case files against the knowledge, as a table; `try_machines` plays answer sheets, `try_score` scores."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from nopost.errors import KnowledgeError, NopostError
from nopost.files import data_dir
from nopost_cli.shared.options import NamedPath, json_option, knowledge_of, own_kb_option
from nopost_cli.shared.terminal import clean, make_console, print_json

if TYPE_CHECKING:
    from nopost.evaluation.case_files import CaseResult
    from nopost.knowledge.model import Knowledge

FOLDER = NamedPath(path_type=Path, exists=True, file_okay=False)
FILE = NamedPath(path_type=Path, exists=True, dir_okay=False)
NARROW = 80
"""On fewer columns the cause stands below its case."""
EVERY = 0.5
"""Seconds between two looks at the files."""


@click.command("try", short_help="Run case files, play real machines, score coded cases.")
@click.argument("cases", nargs=-1, type=click.Path(path_type=Path, exists=True))
@click.option("--machines", metavar="DIR", type=FOLDER, help="Play the dialogue against the answer sheets in this folder.")
@click.option("--score", metavar="DIR", type=FOLDER, help="Score the ranking of the case files in this folder.")
@click.option("--labels", metavar="FILE", type=FILE, help="With --score: rows of id and cause, for cases that do not say it.")
@click.option("--chart", metavar="FILE", help="With --score: draw how often what was said was right, as SVG.")
@click.option("--force", is_flag=True, help="With --chart: write over a file that is there.")
@click.option("--list", "listed", is_flag=True, help="With --machines or --score: each one, the worst first.")
@click.option("--workers", type=click.IntRange(1, 61), help="With --machines: processes to use.  [default: all cores]")
@click.option("--missed", is_flag=True, help="Show only the cases that do not come out as expected.")
@click.option("--watch", is_flag=True, help="Run again whenever a file is saved, until Ctrl-C.")
@json_option
@own_kb_option
def command(
    cases: tuple[Path, ...],
    machines: Path | None,
    score: Path | None,
    labels: Path | None,
    chart: str | None,
    force: bool,
    listed: bool,
    workers: int | None,
    missed: bool,
    watch: bool,
    as_json: bool,
    kb: Path | None,
) -> None:
    """Run case files: is the expected cause high enough, does the expected step come next, do the rules fire?

    CASES are files or folders; without them the cases of the knowledge base are run. Exit code 1 when one is missed.

    With --machines the whole dialogue is played against real machines, whose owners' answers and right fixes stand in answer
    sheets: how many are mended, in how many moves, with how many wrong fixes, at what cost. With --score causes are ranked from
    what cases tell, and stated probabilities are held against the truth. Both end with 1 only when no file could be used.
    """
    _refuse_mixed(
        {"--machines": machines, "--score": score, "CASES": cases, "--missed": missed, "--watch": watch},
        {
            "--labels": (labels, score),
            "--chart": (chart, score),
            "--force": (force, chart),
            "--list": (listed, machines or score),
            "--workers": (workers, machines),
        },
    )
    if machines:
        from nopost_cli.kb.try_machines import try_machines

        try_machines(knowledge_of(kb), kb, machines, listed=listed, as_json=as_json, workers=workers)
        return
    if score:
        from nopost_cli.kb.try_score import score_cases

        score_cases(knowledge_of(kb), score, labels, chart=chart, force=force, listed=listed, as_json=as_json)
        return
    if watch and as_json:
        raise click.UsageError("--watch goes on for ever and --json is one result: give one of them")
    if watch:
        _watch(cases, missed, kb)
        return
    trials = _run(knowledge_of(kb), cases)
    if as_json:
        met = sum(trial.met for trial in trials)
        print_json("case-trial", {"cases": len(trials), "met": met, "trials": [asdict(t) | {"met": t.met} for t in trials]})
    else:
        _show(trials, missed)
    if not all(trial.met for trial in trials):
        raise click.exceptions.Exit(1)


def _refuse_mixed(given: Mapping[str, object], needed: Mapping[str, tuple[object, object]]) -> None:
    """Refuse options that do not go together. `given`: the ways of trying, and what belongs to the plain one; `needed`: an option
    and what it needs."""
    alone = [name for name in ("--machines", "--score") if given[name]]
    others = [name for name in given if given[name] and name not in alone[:1]]
    if alone and others:
        raise click.UsageError(f"{alone[0]} does not go with {others[0]}: give one of them")
    for name, (value, wanted) in needed.items():
        if value and not wanted:
            belongs = {
                "--labels": "--score",
                "--chart": "--score",
                "--force": "--chart",
                "--list": "--machines or --score",
                "--workers": "--machines",
            }[name]
            raise click.UsageError(f"{name} goes with {belongs}")


def _run(knowledge: Knowledge, paths: tuple[Path, ...]) -> list[CaseResult]:
    from rich.progress import track

    from nopost.diagnosis.diagnose import Diagnostician
    from nopost.evaluation.case_files import evaluate_case, read_cases

    cases = read_cases(paths, knowledge) if paths else list(knowledge.cases.values())
    diagnostician = Diagnostician(knowledge)
    console = make_console(stderr=True)
    shown = track(cases, "Cases", console=console, transient=True, disable=not console.is_terminal)
    return [evaluate_case(diagnostician, case) for case in shown]


def _show(trials: list[CaseResult], only_missed: bool) -> None:
    from rich.table import Table
    from rich.text import Text

    console = make_console()
    table = Table(box=None, padding=(0, 1), show_edge=False)
    table.add_column("", no_wrap=True)
    narrow = console.width < NARROW
    table.add_column("Case and cause" if narrow else "Case", overflow="fold")
    if not narrow:
        table.add_column("Cause expected", overflow="fold")
    table.add_column("Place", justify="right")
    table.add_column("Within", justify="right")
    table.add_column("Chance", justify="right")
    for trial in trials:
        if trial.met and only_missed:
            continue
        chance = f"{100 * trial.probability:.0f} %"
        numbers = (str(trial.rank), str(trial.within), chance) if trial.cause else ("-",) * 3
        names = [f"{trial.case}\n  {trial.cause or '-'}"] if narrow else [trial.case, trial.cause or "-"]
        cells = ("ok" if trial.met else "no", *map(clean, names), *numbers)
        table.add_row(*map(Text, cells))
    if table.rows:
        console.print(table)
    for trial in trials:
        for line in trial.missed:
            console.print(Text(clean(f"{trial.case}: {line}")))
        for finding in trial.contradictions:
            console.print(Text(clean(f"{trial.case}: its answers and what rules derive differ at {finding}")))
    console.print(Text(_summary(trials), style="bold"))


def _summary(trials: list[CaseResult]) -> str:
    """How many are met, and how often the cause stands first and among the first three."""
    if not trials:
        return "There are no cases here yet. To write one: nopost kb add case"
    ranked = [trial.rank for trial in trials if trial.cause]
    first, three = sum(rank == 1 for rank in ranked), sum(1 <= rank <= 3 for rank in ranked)
    causes = f"; cause first in {first} and among three in {three} of {len(ranked)}" if ranked else ""
    return f"{sum(trial.met for trial in trials)} of {len(trials)} cases as expected{causes}"


def _watch(paths: tuple[Path, ...], missed: bool, kb: Path | None) -> None:
    """Run, wait for a change, run again. Problems in a file are shown and waited out."""
    seen: object = None
    while True:
        state = _state(paths, kb)
        if state != seen:
            seen = state
            click.echo(time.strftime("-- %H:%M:%S"))
            try:
                _show(_run(knowledge_of(kb), paths), missed)
            except KnowledgeError as error:
                for problem in error.problems:
                    click.echo(clean(str(problem)))
            except NopostError as error:
                click.echo(clean(f"nopost: {error}"))
        time.sleep(EVERY)


def _state(paths: tuple[Path, ...], kb: Path | None) -> tuple[object, ...]:
    """Changes when a file does."""
    from nopost.loading import digest_of

    files = [each for path in paths for each in (sorted(path.iterdir()) if path.is_dir() else [path])]
    return digest_of(kb or data_dir("kb")), *(file.stat().st_mtime_ns if file.exists() else 0 for file in files)
