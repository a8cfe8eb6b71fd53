"""Written exceptions: kb/exceptions.yaml takes single problems off the list, each with its reason.

Only what the closer look says can be excepted, never what stops the knowledge base from loading. An exception that takes nothing
off any more is a problem itself.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from nopost.knowledge.problem import Problem
from nopost.knowledge.yaml_reader import Document, read_yaml
from nopost.linting.lint_context import ItemProblem
from nopost.linting.problem_codes import CLOSER_LOOK_CODES, EXPLANATIONS

EXCEPTIONS_FILE = "exceptions.yaml"


@dataclass(frozen=True, slots=True)
class WrittenException:
    """One exception, with its place in the file."""

    code: str
    about: frozenset[str]
    reason: str
    place: int


@dataclass(frozen=True, slots=True)
class ExceptionsFile:
    """What the file holds; without a file, nothing."""

    document: Document
    each: tuple[WrittenException, ...]
    problems: tuple[Problem, ...]


def read_exceptions(folder: Path) -> ExceptionsFile:
    """Read and check the file of a knowledge base."""
    if not os.path.lexists(folder / EXCEPTIONS_FILE):
        return ExceptionsFile(Document(EXCEPTIONS_FILE), (), ())
    document, problems = read_yaml(folder / EXCEPTIONS_FILE, EXCEPTIONS_FILE, folder)
    if not problems:
        from nopost.knowledge.schema import schema_problems

        problems = schema_problems(document, "exceptions.schema.json")
    if problems:
        return ExceptionsFile(document, (), tuple(problems))
    each = tuple(
        WrittenException(entry["code"], frozenset(entry["about"]), entry["reason"], place)
        for place, entry in enumerate(document.data["exceptions"])
    )
    return ExceptionsFile(document, each, tuple(_bad_exceptions(document, each)))


def apply_exceptions(
    exceptions: ExceptionsFile, remarks: Iterable[ItemProblem]
) -> tuple[list[ItemProblem], list[tuple[ItemProblem, str]], list[Problem]]:
    """What remains, what was taken off with its reason, and the exceptions that took nothing off."""
    reasons = {(exempt.code, exempt.about): exempt for exempt in exceptions.each}
    kept: list[ItemProblem] = []
    taken: list[tuple[ItemProblem, str]] = []
    used: set[WrittenException] = set()
    for remark in remarks:
        exempt = reasons.get((remark.problem.code, frozenset(remark.about)))
        if exempt:
            taken.append((remark, exempt.reason))
            used.add(exempt)
        else:
            kept.append(remark)
    idle = [exempt for exempt in exceptions.each if exempt not in used and exempt.code in CLOSER_LOOK_CODES]
    return kept, taken, [_idle_problem(exceptions.document, exempt) for exempt in idle]


def _bad_exceptions(document: Document, each: Iterable[WrittenException]) -> Iterable[Problem]:
    for exempt in each:
        if exempt.code not in CLOSER_LOOK_CODES:
            known = exempt.code in EXPLANATIONS
            message = f"{exempt.code} {'cannot be excepted' if known else 'is no code of this check'}"
            yield _exception_problem(document, exempt, "bad-exception", message, "correct the code, or mend what it reports")


def _idle_problem(document: Document, exempt: WrittenException) -> Problem:
    message = f"there is no {exempt.code} about {', '.join(sorted(exempt.about))} any more"
    return _exception_problem(document, exempt, "idle-exception", message, "delete this entry, or correct what it is about")


def _exception_problem(document: Document, exempt: WrittenException, code: str, message: str, hint: str) -> Problem:
    line = document.line(("exceptions", exempt.place, "code"))
    return Problem(document.path, line, code, message, hint, EXPLANATIONS[code].severity)
