"""What a problem code means, for people."""

from __future__ import annotations

from dataclasses import dataclass

from nopost.knowledge.problem import Severity


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
