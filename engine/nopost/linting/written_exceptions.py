"""Written exceptions: kb/exceptions.yaml takes single problems off the list, each with its reason.

Only what the closer look says can be excepted, never what stops the knowledge base from loading. An exception that takes nothing
off any more is a problem itself.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from nopost.knowledge.problem import Problem, ProblemCode
from nopost.knowledge.yaml_reader import Document, read_yaml

EXCEPTIONS_FILE = "exceptions.yaml"
BAD_EXCEPTION = ProblemCode(
    "bad-exception",
    "An exception for a code that cannot be excepted",
    "Only what the closer look reports can be excepted; what keeps a knowledge base from loading must be mended.",
    "Correct the code, or delete the entry and mend what it is about.",
)
IDLE_EXCEPTION = ProblemCode(
    "idle-exception",
    "An exception that takes nothing off any more",
    "What it excused was mended, renamed or never there. Left standing, it would excuse the next mistake unseen.",
    "Delete the entry in exceptions.yaml, or correct the items under about.",
)
EXCEPTION_CODES = (BAD_EXCEPTION, IDLE_EXCEPTION)


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
    entries: tuple[WrittenException, ...]
    problems: tuple[Problem, ...]


def read_exceptions(folder: Path) -> ExceptionsFile:
    """Read the file of a knowledge base and check it against its schema."""
    if not os.path.lexists(folder / EXCEPTIONS_FILE):
        return ExceptionsFile(Document(EXCEPTIONS_FILE), (), ())
    document, problems = read_yaml(folder / EXCEPTIONS_FILE, EXCEPTIONS_FILE, folder)
    if not problems:
        from nopost.knowledge.schema import schema_problems

        problems = schema_problems(document, "exceptions.schema.json")
    if problems:
        return ExceptionsFile(document, (), tuple(problems))
    entries = tuple(
        WrittenException(entry["code"], frozenset(entry["about"]), entry["reason"], place)
        for place, entry in enumerate(document.data["exceptions"])
    )
    return ExceptionsFile(document, entries, ())


def apply_exceptions(
    exceptions: ExceptionsFile, problems: Iterable[Problem]
) -> tuple[list[Problem], list[tuple[Problem, str]], list[Problem]]:
    """What remains, what was taken off with its reason, and a problem for each exception that took nothing off."""
    by_subject = {(entry.code, entry.about): entry for entry in exceptions.entries}
    kept: list[Problem] = []
    excepted: list[tuple[Problem, str]] = []
    used: set[WrittenException] = set()
    for problem in problems:
        entry = by_subject.get((problem.code, frozenset(problem.about)))
        if entry:
            excepted.append((problem, entry.reason))
            used.add(entry)
        else:
            kept.append(problem)
    return kept, excepted, [_idle_problem(exceptions.document, entry) for entry in exceptions.entries if entry not in used]


def bad_exceptions(exceptions: ExceptionsFile, exceptable: Collection[str], known: Collection[str]) -> Iterator[Problem]:
    """A problem for each exception whose code cannot be excepted. `exceptable`: the codes that can; `known`: all codes."""
    for entry in exceptions.entries:
        if entry.code not in exceptable:
            message = f"{entry.code} {'cannot be excepted' if entry.code in known else 'is no code of this check'}"
            yield _exception_problem(
                BAD_EXCEPTION, exceptions.document, entry, message, "correct the code, or mend what it reports"
            )


def _idle_problem(document: Document, entry: WrittenException) -> Problem:
    message = f"there is no {entry.code} about {', '.join(sorted(entry.about))} any more"
    return _exception_problem(IDLE_EXCEPTION, document, entry, message, "delete this entry, or correct what it is about")


def _exception_problem(code: ProblemCode, document: Document, entry: WrittenException, message: str, hint: str) -> Problem:
    return code.at(document.path, document.line(("exceptions", entry.place, "code")), message, hint)
