"""The whole check of a knowledge base: what the loader says, and when it says nothing bad, the closer look."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from nopost.knowledge.load import examine
from nopost.knowledge.problem import Problem, Severity
from nopost.review import (
    check_causes,
    check_checklist,
    check_findings,
    check_hazards,
    check_reach,
    check_rules,
    check_texts,
    check_titles,
    check_unused,
)
from nopost.review.exceptions import apply, read_exceptions
from nopost.review.remark import Remark
from nopost.review.view import View

Check = Callable[[View], Iterator[Remark]]

CHECKS: tuple[Check, ...] = (
    *check_reach.CHECKS,
    *check_rules.CHECKS,
    *check_causes.CHECKS,
    *check_findings.CHECKS,
    *check_hazards.CHECKS,
    *check_unused.CHECKS,
    *check_titles.CHECKS,
    *check_texts.CHECKS,
    *check_checklist.CHECKS,
)
STEPS = len(CHECKS) + 1
"""Steps of a whole review: reading with the loader's checks, then each check here."""


@dataclass(frozen=True, slots=True)
class Review:
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


def review(folder: Path, step: Callable[[], None] = lambda: None) -> Review:
    """Check a knowledge base in all ways. `step` is called after each of STEPS steps."""
    source, problems = examine(folder)
    exceptions = read_exceptions(folder)
    problems = [*problems, *exceptions.problems]
    step()
    if any(problem.severity is Severity.ERROR for problem in problems):
        return Review(tuple(sorted(problems)), complete=False)
    remarks: list[Remark] = []
    view = View(source)
    for check in CHECKS:
        remarks.extend(check(view))
        step()
    kept, taken, idle = apply(exceptions, sorted(set(remarks)))
    problems = sorted({*problems, *idle, *(remark.problem for remark in kept)})
    return Review(tuple(problems), tuple((remark.problem, reason) for remark, reason in taken))


def only(found: Review, codes: Collection[str]) -> Review:
    """The part of a review that has these codes; all of it when none is named."""
    if not codes:
        return found
    problems = tuple(problem for problem in found.problems if problem.code in codes)
    return Review(problems, tuple(pair for pair in found.excepted if pair[0].code in codes), found.complete)
