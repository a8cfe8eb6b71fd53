"""`nopost kb check`: what is wrong with a knowledge base, and what each problem code means; as lines, JSON or SARIF."""

from __future__ import annotations

import json
import os
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nopost.errors import UnknownNameError
from nopost_cli.shared.options import json_option, kb_at_hand
from nopost_cli.shared.terminal import clean, make_console, print_json, refuse_existing, write_result

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.text import Text

    from nopost.knowledge.problem import Problem, ProblemCode
    from nopost.linting.runner import LintResult


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
    if listed or explain:
        show_codes(explain, as_json)
        return
    if sarif == "-" and as_json:
        raise click.UsageError("--json and --sarif - both want the output: give one of them a file")
    from nopost.files import data_dir
    from nopost.linting.runner import lint, only_codes

    known_codes(codes)
    if sarif and sarif != "-":
        refuse_existing(sarif, force)
    place = folder or kb_at_hand() or data_dir("kb")
    with _progress() as step:
        found = only_codes(lint(place, step), codes)
    if sarif:
        _write_sarif(found, place, sarif)
    if as_json:
        print_result(found, place)
    elif sarif != "-":
        show_result(found, place)
    raise click.exceptions.Exit(1 if found.fails(strict) else 0)


@contextmanager
def _progress() -> Iterator[Callable[[], None]]:
    """A bar on standard error while the checks run, at a terminal only."""
    from rich.progress import Progress

    from nopost.linting.runner import LINT_STEPS
    from nopost_cli.shared.terminal import make_console

    console = make_console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("Checking", total=LINT_STEPS)
        yield lambda: bar.advance(task)


def _write_sarif(found: LintResult, place: Path, target: str) -> None:
    from nopost.linting.sarif import sarif_log

    text = json.dumps(sarif_log(found, _prefix(place)), indent=2)
    if target == "-":
        click.echo(text)
    else:
        write_result(target, f"{text}\n")


def _prefix(place: Path) -> str:
    """The way from here to the knowledge base; empty when it does not lie below."""
    way = os.path.relpath(place).replace(os.sep, "/")
    return "" if way == "." or way.startswith("../") or way == ".." else f"{way}/"


STYLES = {"error": "red", "warning": "yellow"}
"""Severity -> its colour."""


def known_codes(codes: Collection[str]) -> None:
    """Raise UnknownNameError for a code that there is not."""
    from nopost.linting.runner import PROBLEM_CODES

    for code in codes:
        if code not in PROBLEM_CODES:
            raise UnknownNameError("problem code of `nopost kb check --list`", code, PROBLEM_CODES)


def show_result(found: LintResult, place: Path) -> None:
    """The errors, then the warnings, a line each, and how many there are."""
    from rich.text import Text

    from nopost.knowledge.problem import Severity

    console = make_console()
    for severity in Severity:
        problems = [problem for problem in found.problems if problem.severity is severity]
        if problems:
            console.print(Text(f"{severity.value.capitalize()}s", style=f"bold {STYLES[severity]}"))
            for problem in problems:
                console.print(_line(problem), soft_wrap=not console.is_terminal)
    console.print(Text(clean(summary(found, place))), soft_wrap=not console.is_terminal)


def summary(found: LintResult, place: Path) -> str:
    """The last line."""
    from nopost.knowledge.problem import Severity

    counts = [_count(found.counts[severity], severity.value) for severity in Severity]
    line = f"{place}: {counts[0]}, {counts[1]}"
    if found.excepted:
        line += f", {len(found.excepted)} excepted with a reason"
    if not found.complete:
        line += "; the closer look waits until they are mended"
    if found.problems:
        line += f"\nWhat a code means: nopost kb check --explain {found.problems[0].code}"
    return line


def print_result(found: LintResult, place: Path) -> None:
    """The same as JSON."""
    from nopost.knowledge.problem import Severity

    data = {
        "folder": str(place),
        "complete": found.complete,
        "errors": found.counts[Severity.ERROR],
        "warnings": found.counts[Severity.WARNING],
        "problems": [_problem_data(problem) for problem in found.problems],
        "excepted": [{**_problem_data(problem), "reason": reason} for problem, reason in found.excepted],
    }
    print_json("kb-check", data)


def show_codes(wanted: str | None, as_json: bool) -> None:
    """The table of codes, or one of them in full."""
    from nopost.linting.runner import PROBLEM_CODES

    if wanted:
        known_codes([wanted])
    if as_json:
        chosen = [PROBLEM_CODES[wanted]] if wanted else PROBLEM_CODES.values()
        print_json("kb-check-codes", {"codes": [_code_data(code) for code in chosen]})
    elif wanted:
        _show_code(PROBLEM_CODES[wanted])
    else:
        _show_table(PROBLEM_CODES.values())


def _show_table(codes: Iterable[ProblemCode]) -> None:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, show_header=False)
    table.add_column(no_wrap=True)
    table.add_column(no_wrap=True)
    table.add_column()
    for code in codes:
        table.add_row(Text(code.name), Text(code.severity.value, style=STYLES[code.severity]), Text(code.short))
    make_console().print(table)


def _show_code(code: ProblemCode) -> None:
    from rich.text import Text

    console = make_console()
    console.print(Text.assemble((code.name, "bold"), ("  ", ""), (code.severity.value, STYLES[code.severity])))
    for text in (f"{code.short}.", code.why, code.fix):
        console.print(Text(text))


def _line(problem: Problem) -> Text:
    """The problem as everywhere, its code in colour."""
    from rich.text import Text

    before, _, after = clean(str(problem)).partition(f" {problem.code}: ")
    return Text.assemble(f"{before} ", (problem.code, STYLES[problem.severity]), f": {after}")


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _problem_data(problem: Problem) -> dict[str, Any]:
    return {
        "file": problem.path,
        "line": problem.line,
        "code": problem.code,
        "severity": problem.severity.value,
        "message": problem.message,
        "hint": problem.hint,
    }


def _code_data(code: ProblemCode) -> dict[str, str]:
    return {"code": code.name, "severity": code.severity.value, "short": code.short, "why": code.why, "mend": code.fix}
