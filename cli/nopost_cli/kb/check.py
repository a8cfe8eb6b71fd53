"""`nopost kb check`: what is wrong with a knowledge base, and what each problem code means."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from nopost_cli.options import json_option, kb_at_hand
from nopost_cli.output import refuse_existing, write_result

if TYPE_CHECKING:
    from collections.abc import Callable

    from nopost.review.review import Review


@click.command("check", short_help="Say what is wrong with a knowledge base, with file and line.")
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path))
@click.option("--code", "codes", metavar="CODE", multiple=True, help="Only problems of this code (again for more).")
@click.option("--strict", is_flag=True, help="Warnings fail too.")
@click.option("--sarif", metavar="FILE", help="Write the problems as SARIF 2.1.0; - prints them.")
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@click.option("--list", "listed", is_flag=True, help="List every problem code and end.")
@click.option("--explain", metavar="CODE", help="Say what a problem code means and end.")
@json_option
def command(
    folder: Path | None,
    codes: tuple[str, ...],
    strict: bool,
    sarif: str | None,
    force: bool,
    listed: bool,
    explain: str | None,
    as_json: bool,
) -> None:
    """Check the knowledge base in DIR; without DIR the one here or in kb/, else the one that comes with nopost.

    Ends with 1 when there are errors. A problem that is right as it is goes into exceptions.yaml, with the reason.
    """
    from nopost_cli.kb import check_screen

    if listed or explain:
        check_screen.show_codes(explain, as_json)
        return
    if sarif == "-" and as_json:
        raise click.UsageError("--json and --sarif - both want the output: give one of them a file")
    from nopost.paths import data_dir
    from nopost.review.review import only, review

    check_screen.known_codes(codes)
    if sarif and sarif != "-":
        refuse_existing(sarif, force)
    place = folder or kb_at_hand() or data_dir("kb")
    with _progress() as step:
        found = only(review(place, step), codes)
    if sarif:
        _write_sarif(found, place, sarif)
    if as_json:
        check_screen.print_review(found, place)
    elif sarif != "-":
        check_screen.show_review(found, place)
    raise click.exceptions.Exit(1 if found.fails(strict) else 0)


@contextmanager
def _progress() -> Iterator[Callable[[], None]]:
    """A bar on standard error while the checks run, at a terminal only."""
    from rich.progress import Progress

    from nopost.review.review import STEPS
    from nopost_cli.terminal import make_console

    console = make_console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("Checking", total=STEPS)
        yield lambda: bar.advance(task)


def _write_sarif(found: Review, place: Path, target: str) -> None:
    from nopost.review.sarif import sarif_log

    text = json.dumps(sarif_log(found, _prefix(place)), indent=2)
    if target == "-":
        click.echo(text)
    else:
        write_result(target, f"{text}\n")


def _prefix(place: Path) -> str:
    """The way from here to the knowledge base; empty when it does not lie below."""
    way = os.path.relpath(place).replace(os.sep, "/")
    return "" if way == "." or way.startswith("../") or way == ".." else f"{way}/"
