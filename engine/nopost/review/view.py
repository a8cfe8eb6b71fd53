"""What a review check sees: the items with their places, and what is computed from them once."""

from __future__ import annotations

from functools import cached_property
from typing import Any

from nopost.belief.model import BeliefModel
from nopost.knowledge import model as m
from nopost.knowledge.context import Context
from nopost.knowledge.kinds import KINDS
from nopost.knowledge.problem import Problem, Severity
from nopost.knowledge.source import Source
from nopost.knowledge.yaml_file import Path_
from nopost.review.explanations import EXPLANATIONS
from nopost.review.reach import Reach, reach_of
from nopost.review.remark import Remark


class View:
    """A knowledge base that passed the loader's own checks."""

    def __init__(self, source: Source) -> None:
        self.root = source.root
        self.context = Context(source)
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
        self, folder: str, item: str, where: Path_, code: str, message: str, hint: str, others: tuple[str, ...] = ()
    ) -> Remark:
        """A remark at a place in an item's file (in base.yaml when the folder is empty). `others`: further items, folder/id."""
        problem: Problem = self.context.problem(folder, item, where, code, message, hint, severity_of(code))
        return Remark(problem, (f"{folder}/{item}" if folder else "base", *others))


def severity_of(code: str) -> Severity:
    """How bad problems of a code are."""
    return EXPLANATIONS[code].severity
