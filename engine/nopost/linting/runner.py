"""The whole check of a knowledge base: what stops it from loading, and when nothing does, the closer look.

The first group of checks sees what a schema cannot: names that lead nowhere, numbers that do not add up, rules that contradict.
Each is a function from the items read so far to problems. A check says nothing about what it cannot judge because of another
problem, so that all problems can be told at once.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from nopost.knowledge import record_faults
from nopost.knowledge.problem import Problem, Severity
from nopost.knowledge.source_files import PartialKnowledge, SourceFiles
from nopost.linting import (
    check_causes,
    check_checklist,
    check_findings,
    check_hazards,
    check_limits,
    check_references,
    check_rules,
    check_texts,
    check_unused,
)
from nopost.linting.lint_context import ItemProblem, LintContext
from nopost.linting.written_exceptions import apply_exceptions, read_exceptions
from nopost.loading import examine

LoadCheck = Callable[[PartialKnowledge], Iterator[Problem]]

ITEM_CHECKS: tuple[LoadCheck, ...] = (
    *check_references.REFERENCE_CHECKS,
    *record_faults.RECORD_CHECKS,
    *check_findings.FINDING_CHECKS,
    *check_references.KIND_CHECKS,
    *check_limits.LIMIT_CHECKS,
    *check_findings.NUMBER_CHECKS,
    *check_rules.PREMISE_CHECKS,
)
"""They look at one item and what it names."""
WHOLE_CHECKS: tuple[LoadCheck, ...] = check_unused.WHOLE_BASE_CHECKS
"""They look for what no item has or does, which a broken file might."""


def semantic_problems(source: SourceFiles) -> list[Problem]:
    """All problems of the files that passed their schemas; those of the whole only when every file did."""
    context = PartialKnowledge(source)
    checks = ITEM_CHECKS if source.problems else (*ITEM_CHECKS, *WHOLE_CHECKS)
    return [problem for check in checks for problem in check(context)]


CloserCheck = Callable[[LintContext], Iterator[ItemProblem]]

CLOSER_CHECKS: tuple[CloserCheck, ...] = (
    *check_unused.REACH_CHECKS,
    *check_rules.RULE_PAIR_CHECKS,
    *check_causes.CAUSE_CHECKS,
    *check_findings.ANSWER_ORDER_CHECKS,
    *check_hazards.HAZARD_CHECKS,
    *check_unused.UNUSED_CHECKS,
    *check_texts.TITLE_CHECKS,
    *check_texts.TEXT_CHECKS,
    *check_checklist.CHECKLIST_CHECKS,
)
LINT_STEPS = len(CLOSER_CHECKS) + 1
"""Steps of a whole review: reading with the loader's checks, then each check here."""


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
    """Check a knowledge base in all ways. `step` is called after each of STEPS steps."""
    source, problems = examine(folder)
    exceptions = read_exceptions(folder)
    problems = [*problems, *exceptions.problems]
    step()
    if any(problem.severity is Severity.ERROR for problem in problems):
        return LintResult(tuple(sorted(problems)), complete=False)
    remarks: list[ItemProblem] = []
    view = LintContext(source)
    for check in CLOSER_CHECKS:
        remarks.extend(check(view))
        step()
    kept, taken, idle = apply_exceptions(exceptions, sorted(set(remarks)))
    problems = sorted({*problems, *idle, *(remark.problem for remark in kept)})
    return LintResult(tuple(problems), tuple((remark.problem, reason) for remark, reason in taken))


def only_codes(found: LintResult, codes: Collection[str]) -> LintResult:
    """The part of a review that has these codes; all of it when none is named."""
    if not codes:
        return found
    problems = tuple(problem for problem in found.problems if problem.code in codes)
    return LintResult(problems, tuple(pair for pair in found.excepted if pair[0].code in codes), found.complete)
