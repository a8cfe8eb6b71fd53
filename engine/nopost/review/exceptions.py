"""Written exceptions: kb/exceptions.yaml takes single problems off the list, each with its reason.

Only what the review says can be excepted, never what stops the knowledge base from loading. An exception that takes
nothing off any more is a problem itself.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from nopost.knowledge.problem import Problem
from nopost.knowledge.yaml_file import Document, read_yaml
from nopost.review.explanations import EXPLANATIONS
from nopost.review.remark import Remark
from nopost.review.review_codes import REVIEW_CODES

FILE = "exceptions.yaml"


@dataclass(frozen=True, slots=True)
class Exempt:
    """One exception, with its place in the file."""

    code: str
    about: frozenset[str]
    reason: str
    place: int


@dataclass(frozen=True, slots=True)
class Exceptions:
    """What the file holds; without a file, nothing."""

    document: Document
    each: tuple[Exempt, ...]
    problems: tuple[Problem, ...]


def read_exceptions(folder: Path) -> Exceptions:
    """Read and check the file of a knowledge base."""
    if not os.path.lexists(folder / FILE):
        return Exceptions(Document(FILE), (), ())
    document, problems = read_yaml(folder / FILE, FILE, folder)
    if not problems:
        from nopost.knowledge.schema import schema_problems

        problems = schema_problems(document, "exceptions.schema.json")
    if problems:
        return Exceptions(document, (), tuple(problems))
    each = tuple(
        Exempt(entry["code"], frozenset(entry["about"]), entry["reason"], place)
        for place, entry in enumerate(document.data["exceptions"])
    )
    return Exceptions(document, each, tuple(_unknown(document, each)))


def apply(exceptions: Exceptions, remarks: Iterable[Remark]) -> tuple[list[Remark], list[tuple[Remark, str]], list[Problem]]:
    """What remains, what was taken off with its reason, and the exceptions that took nothing off."""
    reasons = {(exempt.code, exempt.about): exempt for exempt in exceptions.each}
    kept: list[Remark] = []
    taken: list[tuple[Remark, str]] = []
    used: set[Exempt] = set()
    for remark in remarks:
        exempt = reasons.get((remark.problem.code, frozenset(remark.about)))
        if exempt:
            taken.append((remark, exempt.reason))
            used.add(exempt)
        else:
            kept.append(remark)
    idle = [exempt for exempt in exceptions.each if exempt not in used and exempt.code in REVIEW_CODES]
    return kept, taken, [_idle(exceptions.document, exempt) for exempt in idle]


def _unknown(document: Document, each: Iterable[Exempt]) -> Iterable[Problem]:
    for exempt in each:
        if exempt.code not in REVIEW_CODES:
            known = exempt.code in EXPLANATIONS
            message = f"{exempt.code} {'cannot be excepted' if known else 'is no code of this check'}"
            yield _problem(document, exempt, "bad-exception", message, "correct the code, or mend what it reports")


def _idle(document: Document, exempt: Exempt) -> Problem:
    message = f"there is no {exempt.code} about {', '.join(sorted(exempt.about))} any more"
    return _problem(document, exempt, "idle-exception", message, "delete this entry, or correct what it is about")


def _problem(document: Document, exempt: Exempt, code: str, message: str, hint: str) -> Problem:
    line = document.line(("exceptions", exempt.place, "code"))
    return Problem(document.path, line, code, message, hint, EXPLANATIONS[code].severity)
