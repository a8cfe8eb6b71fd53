"""A problem in a file, as a value: what, where, and what to do."""

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
