"""How a review and the table of codes are shown."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.table import Table
from rich.text import Text

from nopost.errors import UnknownNameError
from nopost.knowledge.problem import Problem, Severity
from nopost.review.explanations import EXPLANATIONS
from nopost_cli.envelope import print_json
from nopost_cli.terminal import clean, make_console

if TYPE_CHECKING:
    from nopost.review.explanation import Explanation
    from nopost.review.review import Review

STYLES = {Severity.ERROR: "red", Severity.WARNING: "yellow"}


def known_codes(codes: Collection[str]) -> None:
    """Raise UnknownNameError for a code that there is not."""
    for code in codes:
        if code not in EXPLANATIONS:
            raise UnknownNameError("problem code of `nopost kb check --list`", code, EXPLANATIONS)


def show_review(found: Review, place: Path) -> None:
    """The errors, then the warnings, a line each, and how many there are."""
    console = make_console()
    for severity in Severity:
        problems = [problem for problem in found.problems if problem.severity is severity]
        if problems:
            console.print(Text(f"{severity.value.capitalize()}s", style=f"bold {STYLES[severity]}"))
            for problem in problems:
                console.print(_line(problem), soft_wrap=not console.is_terminal)
    console.print(Text(clean(summary(found, place))), soft_wrap=not console.is_terminal)


def summary(found: Review, place: Path) -> str:
    """The last line."""
    counts = [_count(found.counts[severity], severity.value) for severity in Severity]
    line = f"{place}: {counts[0]}, {counts[1]}"
    if found.excepted:
        line += f", {len(found.excepted)} excepted with a reason"
    if not found.complete:
        line += "; the closer look waits until they are mended"
    if found.problems:
        line += f"\nWhat a code means: nopost kb check --explain {found.problems[0].code}"
    return line


def print_review(found: Review, place: Path) -> None:
    """The same as JSON."""
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
    if wanted:
        known_codes([wanted])
    if as_json:
        chosen = [wanted] if wanted else list(EXPLANATIONS)
        print_json("kb-check-codes", {"codes": [_code_data(code, EXPLANATIONS[code]) for code in chosen]})
    elif wanted:
        _show_code(wanted, EXPLANATIONS[wanted])
    else:
        _show_table()


def _show_table() -> None:
    table = Table(box=None, pad_edge=False, show_header=False)
    table.add_column(no_wrap=True)
    table.add_column(no_wrap=True)
    table.add_column()
    for code, known in EXPLANATIONS.items():
        table.add_row(Text(code), Text(known.severity.value, style=STYLES[known.severity]), Text(known.short))
    make_console().print(table)


def _show_code(code: str, known: Explanation) -> None:
    console = make_console()
    console.print(Text.assemble((code, "bold"), ("  ", ""), (known.severity.value, STYLES[known.severity])))
    for text in (f"{known.short}.", known.why, known.mend):
        console.print(Text(text))


def _line(problem: Problem) -> Text:
    """The problem as everywhere, its code in colour."""
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


def _code_data(code: str, known: Explanation) -> dict[str, str]:
    return {"code": code, "severity": known.severity.value, "short": known.short, "why": known.why, "mend": known.mend}
