"""What a check says to someone who is just writing items: errors of these files, and what other items are still wanted."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from nopost.knowledge.problem import Problem, Severity
from nopost.knowledge.source_files import PartialKnowledge
from nopost.linting.check_unused import NeverOpen, NoCauses, UnusedAction
from nopost.linting.runner import examine

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
