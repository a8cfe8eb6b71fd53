"""A problem in a file, as a value: what, where, how bad, and what to do; and the code of a kind of problem, explained to people.

Each code stands beside the function that raises it: those of one file's text in `yaml_reader`, those of the folder in
`source_files`, those of the schemas in `schema`, those of records in `record_faults`, all others in the checks of
`nopost.linting`, whose registry collects them all.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum


class Severity(StrEnum):
    """How bad a problem is: with an error the knowledge base is not used."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One problem. `line` counts from 1; 0 means the file as a whole.

    `about`: the items that it is about as folder/id, the one whose file is named first; the base is just "base". By them a
    written exception names the problem.
    """

    path: str
    line: int
    code: str
    message: str
    hint: str = ""
    severity: Severity = Severity.ERROR
    about: tuple[str, ...] = field(default=(), compare=False)

    def __str__(self) -> str:
        where = f"{self.path}:{self.line}" if self.line else self.path
        return f"{where}: {self.code}: {self.message}" + (f" → {self.hint}" if self.hint else "")


@dataclass(frozen=True, slots=True)
class ProblemCode:
    """A kind of problem. `name` is what is printed and what an exception names.

    `short` is a line that names the problem, `why` says what it does to a diagnosis, `fix` what to do.
    """

    name: str
    short: str
    why: str
    fix: str
    severity: Severity = Severity.ERROR

    def at(self, path: str, line: int, message: str, hint: str = "", about: tuple[str, ...] = ()) -> Problem:
        """A problem of this kind at a place; the line counts from 1, 0 means the file as a whole."""
        return Problem(path, line, self.name, message, hint, self.severity, about)


UNKNOWN_NAME = ProblemCode(
    "unknown-name",
    "A name that leads nowhere",
    "What is named does not exist.",
    "Correct the name, or add the item.",
)
UNKNOWN_ANSWER = ProblemCode(
    "unknown-answer",
    "An answer that its finding does not have",
    "The condition could never hold, or the number would be lost.",
    "Use one of the finding's answers.",
)


def nearest_hint(name: str, known: Iterable[str], otherwise: str = "add it, or correct the name", most: int = 1) -> str:
    """A question that names at most `most` known names that are spelled nearly alike; `otherwise` when there is none."""
    close = difflib.get_close_matches(name, sorted(known), n=most, cutoff=0.5)
    return f"did you mean {' or '.join(close)}?" if close else otherwise
