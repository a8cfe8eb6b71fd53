"""What a schema cannot see: names that lead nowhere, numbers that do not add up, rules that contradict.

Each check is a function from the context to problems, kept with its like in a module of its own. A check says nothing
about what it cannot judge because of another problem, so that all problems can be told at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from nopost.knowledge import (
    check_boards,
    check_findings,
    check_kinds,
    check_limits,
    check_numbers,
    check_references,
    check_rules,
    check_whole,
)
from nopost.knowledge.context import Context
from nopost.knowledge.problem import Problem
from nopost.knowledge.source import Source

Check = Callable[[Context], Iterator[Problem]]

EACH: tuple[Check, ...] = (
    *check_references.CHECKS,
    *check_boards.CHECKS,
    *check_findings.CHECKS,
    *check_kinds.CHECKS,
    *check_limits.CHECKS,
    *check_numbers.CHECKS,
    *check_rules.CHECKS,
)
"""They look at one item and what it names."""
WHOLE: tuple[Check, ...] = check_whole.CHECKS
"""They look for what no item has or does, which a broken file might."""


def meaning_problems(source: Source) -> list[Problem]:
    """All problems of the files that passed their schemas; those of the whole only when every file did."""
    context = Context(source)
    checks = EACH if source.problems else (*EACH, *WHOLE)
    return [problem for check in checks for problem in check(context)]
