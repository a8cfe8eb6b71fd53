"""What a check of the closer look sees and says.

It sees the items with their places, and what is computed from them once. It says a problem and the items that it is about, so
that a written exception can name them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.knowledge import model as m
from nopost.knowledge.build import KINDS
from nopost.knowledge.problem import Problem, Severity
from nopost.knowledge.source_files import PartialKnowledge, SourceFiles
from nopost.knowledge.yaml_reader import KeyPath
from nopost.linting.problem_codes import EXPLANATIONS
from nopost.linting.reachability import Reach, reach_of


@dataclass(frozen=True, slots=True, order=True)
class ItemProblem:
    """One remark. `about`: the items as folder/id, the one whose file is named first; the base is just "base"."""

    problem: Problem
    about: tuple[str, ...]


class LintContext:
    """A knowledge base that passed the loader's own checks."""

    def __init__(self, source: SourceFiles) -> None:
        self.root = source.root
        self.context = PartialKnowledge(source)
        assert self.context.base is not None  # the loader found no problems
        held: dict[str, Any] = {name: dict(sorted(getattr(self.context, name).items())) for name in KINDS}
        self.knowledge = m.Knowledge(base=self.context.base, **held)

    @cached_property
    def reach(self) -> Reach:
        """What can ever be asked, seen, done and fired."""
        return reach_of(self.knowledge)

    @cached_property
    def belief(self) -> BeliefModel:
        """The compiled model of the same knowledge."""
        return BeliefModel(self.knowledge)

    def remark(
        self, folder: str, item: str, where: KeyPath, code: str, message: str, hint: str, others: tuple[str, ...] = ()
    ) -> ItemProblem:
        """A remark at a place in an item's file (in base.yaml when the folder is empty). `others`: further items, folder/id."""
        problem: Problem = self.context.problem(folder, item, where, code, message, hint, severity_of(code))
        return ItemProblem(problem, (f"{folder}/{item}" if folder else "base", *others))


def severity_of(code: str) -> Severity:
    """How bad problems of a code are."""
    return EXPLANATIONS[code].severity
