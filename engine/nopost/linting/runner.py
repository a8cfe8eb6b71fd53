"""The whole check of a knowledge base: every check there is, by stage; what stops a base from loading; and when nothing does, the
closer look.

A check says nothing about what it cannot judge because of another problem, so that all problems can be told at once.

Written exceptions (`exceptions.yaml` in the base) take single problems off the list, each with its reason: only what the closer
look says, never what stops the knowledge base from loading. An exception that takes nothing off any more is a problem itself.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from nopost.knowledge.problem import Problem, ProblemCode, Severity
from nopost.knowledge.schema import SCHEMA_CODES
from nopost.knowledge.source_files import FOLDER_CODES, PartialKnowledge, SourceFiles, read_source
from nopost.knowledge.yaml_reader import READER_CODES, Document, read_yaml
from nopost.linting import (
    check_causes,
    check_checklist,
    check_findings,
    check_hazards,
    check_limits,
    check_parents,
    check_preparations,
    check_references,
    check_renamed,
    check_repairs,
    check_rules,
    check_texts,
    check_unused,
)
from nopost.linting.check_unused import NeverOpen, NoCauses, UnusedAction
from nopost.linting.lint_check import Check, LintContext, Stage

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


CHECKS: tuple[type[Check], ...] = (
    *check_references.CHECKS,
    *check_limits.RECORD_CHECKS,
    *check_findings.CHECKS,
    *check_parents.CHECKS,
    *check_repairs.CHECKS,
    *check_preparations.CHECKS,
    *check_limits.CHECKS,
    *check_rules.CHECKS,
    *check_unused.REACH_CHECKS,
    *check_causes.CHECKS,
    *check_hazards.CHECKS,
    *check_unused.CHECKS,
    *check_texts.CHECKS,
    *check_checklist.CHECKS,
    *check_renamed.CHECKS,
)
"""Every check; several may share one code."""


def checks_of(*stages: Stage) -> tuple[type[Check], ...]:
    """The checks of these stages."""
    return tuple(check for check in CHECKS if check.stage in stages)


EXCEPTABLE_CODES = frozenset(check.code.name for check in checks_of(Stage.CLOSER))
"""Codes of problems that a written exception may take off."""
PROBLEM_CODES: Mapping[str, ProblemCode] = MappingProxyType(
    {
        code.name: code
        for code in sorted(
            {*READER_CODES, *FOLDER_CODES, *SCHEMA_CODES, *EXCEPTION_CODES, *(check.code for check in CHECKS)},
            key=lambda code: code.name,
        )
    }
)
"""Name -> code, in order of name: all that `kb check` can print."""


LINT_STEPS = len(checks_of(Stage.CLOSER)) + 1
"""Steps of a whole check: reading with all that keeps the base from loading, then each check of the closer look."""


def examine(folder: Path) -> tuple[SourceFiles, list[Problem]]:
    """Read a knowledge base and look for all that keeps it from loading; problems of all files, sorted by file and line."""
    source = read_source(folder)
    context = LintContext(source)
    checks = checks_of(Stage.ITEM) if source.problems else checks_of(Stage.ITEM, Stage.WHOLE)
    return source, sorted({*source.problems, *(problem for check in checks for problem in check(context).run())})


@dataclass(frozen=True, slots=True)
class LintResult:
    """The problems by file and line, and those that a written exception took off, each with its reason.

    `complete` is false when the loader found errors: then only its problems are told, since the closer look needs a
    knowledge base that loads.
    """

    problems: tuple[Problem, ...]
    excepted: tuple[tuple[Problem, str], ...] = ()
    complete: bool = True
    counts: Mapping[Severity, int] = field(init=False)

    def __post_init__(self) -> None:
        counts = {severity: sum(p.severity is severity for p in self.problems) for severity in Severity}
        object.__setattr__(self, "counts", counts)

    def fails(self, strict: bool) -> bool:
        """Whether there are errors, when strict any problem at all, or errors that kept the rest from being looked at."""
        return not self.complete or (bool(self.problems) if strict else self.counts[Severity.ERROR] > 0)


def lint(folder: Path, step: Callable[[], None] = lambda: None) -> LintResult:
    """Check a knowledge base in all ways. `step` is called after each of LINT_STEPS steps."""
    source, problems = examine(folder)
    exceptions = read_exceptions(folder)
    problems = [*problems, *exceptions.problems, *bad_exceptions(exceptions, EXCEPTABLE_CODES, PROBLEM_CODES)]
    step()
    if any(problem.severity is Severity.ERROR for problem in problems):
        return LintResult(tuple(sorted(problems)), complete=False)
    found: set[Problem] = set()
    context = LintContext(source)
    for check in checks_of(Stage.CLOSER):
        found.update(check(context).run())
        step()
    kept, excepted, idle = apply_exceptions(exceptions, sorted(found))
    return LintResult(tuple(sorted({*problems, *idle, *kept})), tuple(excepted))


def only_codes(found: LintResult, codes: Collection[str]) -> LintResult:
    """The part of a result that has these codes; all of it when none is named."""
    if not codes:
        return found
    problems = tuple(problem for problem in found.problems if problem.code in codes)
    return LintResult(problems, tuple(pair for pair in found.excepted if pair[0].code in codes), found.complete)


CODES_STILL_TO_COME = frozenset(check.code.name for check in (NoCauses, UnusedAction, NeverOpen))
"""Problems that another item takes away: they tell what comes next, not what is wrong."""


@dataclass(frozen=True, slots=True)
class ProblemsAfterWriting:
    """Problems of a base after a file was written: errors and warnings of that file, what other items are still wanted, and how
    many problems stand elsewhere."""

    errors: tuple[Problem, ...]
    warnings: tuple[Problem, ...]
    to_come: tuple[Problem, ...]
    elsewhere: int


def read_base(root: Path) -> tuple[PartialKnowledge, list[Problem]]:
    """What there is so far, however unfinished, and all its problems."""
    source, problems = examine(root)
    return PartialKnowledge(source), problems


def problems_after_writing(root: Path, *written: Path) -> ProblemsAfterWriting:
    """Examine the whole base: what concerns the files that were just written, and the rest in number."""
    own = {path.relative_to(root).as_posix() for path in written}
    _, problems = read_base(root)
    to_come = tuple(p for p in problems if p.code in CODES_STILL_TO_COME)
    rest = [p for p in problems if p.code not in CODES_STILL_TO_COME]
    ours = [p for p in rest if p.path.replace("\\", "/") in own]
    errors = tuple(p for p in ours if p.severity is Severity.ERROR)
    warnings = tuple(p for p in ours if p.severity is not Severity.ERROR)
    return ProblemsAfterWriting(errors, warnings, to_come, len(rest) - len(ours))
