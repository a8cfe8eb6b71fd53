"""Cases that come out otherwise with another edition."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from nopost.advice.assess import Assessor
from nopost.errors import UnknownNameError
from nopost.knowledge.model import Case, Knowledge
from nopost.trial.case_files import name_problems
from nopost.trial.case_trial import Trial, try_case


@dataclass(frozen=True, slots=True)
class Flip:
    """A case under both editions; None where its names are not known there."""

    case: str
    old: Trial | None
    new: Trial | None

    @property
    def verdict(self) -> str:
        """better, worse, moved, same, or not in old / not in new."""
        if self.old is None or self.new is None:
            return "not in old" if self.old is None else "not in new"
        if self.old.met != self.new.met:
            return "better" if self.new.met else "worse"
        return "same" if (self.old.rank, self.old.next_step) == (self.new.rank, self.new.next_step) else "moved"


def flips(old: Assessor, new: Assessor, cases: Iterable[Case]) -> list[Flip]:
    """Each case under both editions."""
    return [Flip(case.id, _tried(old, case), _tried(new, case)) for case in cases]


def all_cases(old: Knowledge, new: Knowledge, more: Iterable[Case] = ()) -> list[Case]:
    """The cases of both editions and more; the new edition's of one name counts."""
    found: Mapping[str, Case] = {**old.cases, **new.cases, **{case.id: case for case in more}}
    return [found[name] for name in sorted(found)]


def _tried(assessor: Assessor, case: Case) -> Trial | None:
    try:
        return None if any(name_problems(case, assessor.knowledge)) else try_case(assessor, case)
    except UnknownNameError:
        return None
