"""The whole check of a knowledge base: what keeps it from loading, and when nothing does, the closer look."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from nopost.knowledge.problem import Problem, Severity
from nopost.knowledge.source_files import SourceFiles, read_source
from nopost.linting.lint_check import LintContext, Stage
from nopost.linting.registry import EXCEPTABLE_CODES, PROBLEM_CODES, checks_of
from nopost.linting.written_exceptions import apply_exceptions, bad_exceptions, read_exceptions

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
