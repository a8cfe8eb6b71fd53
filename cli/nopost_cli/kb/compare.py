"""`nopost kb compare`: two editions on one page."""

from __future__ import annotations

from pathlib import Path

import click

from nopost_cli.shared.options import json_option, knowledge_of
from nopost_cli.shared.terminal import clean, make_console, print_json, refuse_existing, write_result

FOLDER = click.Path(path_type=Path, exists=True, file_okay=False)


@click.command("compare", short_help="Two editions side by side, on one page for a reviewer.")
@click.argument("old", type=FOLDER)
@click.argument("new", type=FOLDER)
@click.option("--cases", "cases", type=click.Path(path_type=Path, exists=True), multiple=True, help="More case files or folders.")
@click.option("--runs", type=click.IntRange(0, 100_000), default=200, show_default=True, help="Simulated machines; 0: none.")
@click.option("--seed", type=click.IntRange(0, 2**31), default=1, show_default=True, help="Another seed, other machines.")
@click.option("--workers", type=click.IntRange(1, 256), help="Processes; default: all cores.")
@click.option("--format", "form", type=click.Choice(["md", "html"]), default="md", show_default=True, help="Form.")
@click.option("--out", metavar="FILE", default="", help="Write to a file instead of printing.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@json_option
def command(
    old: Path,
    new: Path,
    cases: tuple[Path, ...],
    runs: int,
    seed: int,
    workers: int | None,
    form: str,
    out: str,
    force: bool,
    as_json: bool,
) -> None:
    """Show what changed from the knowledge base OLD to NEW, which cases come out otherwise, and what a repair takes with each.

    Both advise on the same simulated machines: first drawn as if the new edition were right, then as if the old one were. What
    stands in brackets is a 95 % interval. When both have the same files, nothing is run.
    """
    from rich.progress import Progress

    if out:
        refuse_existing(out, force)
    before, after = knowledge_of(old), knowledge_of(new)
    from nopost.diagnosis.diagnose import Diagnostician
    from nopost.evaluation.case_files import read_cases
    from nopost.evaluation.cross_evaluation import cross_evaluate
    from nopost.evaluation.edition_report import (
        EditionComparison,
        all_cases,
        compare_cases,
        comparison_data,
        html_comparison,
        item_changes,
        markdown_comparison,
        same_files,
    )

    if same_files(before, after):
        compared, runs = [], 0
    else:
        more = read_cases(cases, after) if cases else []
        compared = compare_cases(Diagnostician(before), Diagnostician(after), all_cases(before, after, more))
    console = make_console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as progress:
        task = progress.add_task("Machines", total=2 * runs)
        evaluated = cross_evaluate(before, after, runs, seed, workers, lambda done: progress.advance(task, done)) if runs else ()
    found = EditionComparison(before, after, item_changes(before, after), compared, evaluated)
    if as_json:
        print_json("comparison", comparison_data(found))
        return
    text = (html_comparison if form == "html" else markdown_comparison)(found)
    if not out:
        click.echo(clean(text), nl=False)
        return
    write_result(out, text)
    click.echo(f"{out}: {found.title}")
