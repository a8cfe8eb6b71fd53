"""Cases taken from public accounts, reduced to facts and coded blind: valid, known, and not collapsing.

Where each comes from stands in its own `source`. A case that the knowledge base ranks low is not an error: the answers may
be too few to tell. So no single case has to hit; the summary only guards against a collapse of all.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import pytest

from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.history import case_history, check_answer, check_tried
from nopost.knowledge import build
from nopost.knowledge.model import Case
from nopost.knowledge.schema import schema_problems
from nopost.knowledge.yaml_reader import read_yaml

FILES = sorted((Path(__file__).parent / "reference").glob("*.yaml"))
FLOOR_FIRST = 0.34
FLOOR_THREE = 0.47


def read(path: Path) -> Case:
    """A case from its file."""
    document, problems = read_yaml(path)
    assert problems == []
    return build.case(document.data)


def rank(diagnostician: Diagnostician, case: Case) -> int:
    """Place of the case's cause in the ranking, 1 is first."""
    causes = [cause for cause, _ in diagnostician.diagnose(case_history(case)).ranking]
    return causes.index(case.expect["cause"]) + 1


@dataclass
class Tally:
    """Ranks of all reference cases, and how often the cause stood high enough."""

    ranks: list[int] = field(default_factory=list)

    def share(self, place: int) -> float:
        """Share of the cases whose cause stands at this place or higher."""
        return sum(1 for rank in self.ranks if rank <= place) / len(self.ranks)


@pytest.fixture(scope="session")
def tally(diagnostician: Diagnostician) -> Tally:
    """All reference cases, ranked once."""
    return Tally([rank(diagnostician, read(path)) for path in FILES])


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_file_is_valid(diagnostician: Diagnostician, path: Path) -> None:
    """Schema, names and the file's own id hold, and a cause is expected that the knowledge base knows."""
    document, problems = read_yaml(path)
    assert problems == []
    assert schema_problems(document, "case.schema.json") == []
    case = build.case(document.data)
    assert case.id == path.stem
    for finding, answer in case.answers.items():
        check_answer(diagnostician.knowledge, finding, answer)
    for action, outcome in case.tried:
        check_tried(diagnostician.knowledge, action, outcome)
    assert case.expect["cause"] in diagnostician.knowledge.causes


@pytest.mark.slow
def test_no_collapse(tally: Tally) -> None:
    """A guard against collapse, not a target: the floors are 80 % of what was measured when they were set.

    Measured then over 47 cases: the cause came first in 43 %, and among the first three in 60 %.
    """
    assert len(tally.ranks) == len(FILES) > 0
    assert tally.share(1) >= FLOOR_FIRST
    assert tally.share(3) >= FLOOR_THREE
