"""A problem in a file, as a value: what, where, how bad, and what to do; and what its code means, for people."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How bad a problem is: with an error the knowledge base is not used."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One problem. `line` counts from 1; 0 means the file as a whole."""

    path: str
    line: int
    code: str
    message: str
    hint: str = ""
    severity: Severity = Severity.ERROR

    def __str__(self) -> str:
        where = f"{self.path}:{self.line}" if self.line else self.path
        return f"{where}: {self.code}: {self.message}" + (f" → {self.hint}" if self.hint else "")


@dataclass(frozen=True, slots=True)
class Explanation:
    """One code: `short` is a line that names the problem, `why` says what it does to a diagnosis, `mend` what to do."""

    short: str
    why: str
    mend: str
    severity: Severity = Severity.ERROR


Rows = tuple[tuple[str, str, str, str], ...]
"""Code, short, why, mend."""


def explained(severity: Severity, rows: Rows) -> dict[str, Explanation]:
    """The rows as explanations of one severity, by code."""
    return {code: Explanation(short, why, mend, severity) for code, short, why, mend in rows}
