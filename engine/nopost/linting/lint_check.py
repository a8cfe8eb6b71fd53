"""A check, and what it sees.

A check is a class that names its code (with severity, title, why and what to do) and finds the problems of that code. It says
nothing about what it cannot judge because of another problem, so that all problems can be told at once.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from enum import Enum
from functools import cached_property
from typing import TYPE_CHECKING, Any, ClassVar

from nopost.knowledge import model as m
from nopost.knowledge.build import KINDS
from nopost.knowledge.problem import Problem, ProblemCode
from nopost.knowledge.source_files import PartialKnowledge, SourceFiles
from nopost.knowledge.yaml_reader import KeyPath
from nopost.linting.reachability import Reach, reach_of

if TYPE_CHECKING:  # numpy and the belief are loaded only when a check asks for them
    from nopost.diagnosis.belief.posterior import BeliefModel


class Stage(Enum):
    """When a check can be run."""

    ITEM = "each item and what it names"
    """While other files are broken, too."""
    WHOLE = "what no item has or does, which a broken file might"
    """Once every file could be read and passed its schema."""
    CLOSER = "the closer look"
    """Once nothing keeps the knowledge base from loading. Only what such a check finds can be excepted in writing."""


class LintContext:
    """A knowledge base as a check sees it: the items with their places, and what is computed from them once."""

    def __init__(self, source: SourceFiles) -> None:
        self.root = source.root
        self.items = PartialKnowledge(source)

    @cached_property
    def knowledge(self) -> m.Knowledge:
        """The whole; for the closer look only."""
        assert self.items.base is not None  # nothing keeps it from loading
        held: dict[str, Any] = {name: dict(sorted(getattr(self.items, name).items())) for name in KINDS}
        return m.Knowledge(base=self.items.base, renamed=self.items.renamed, **held)

    @cached_property
    def reach(self) -> Reach:
        """What can ever be asked, seen, done and fired; for the closer look only."""
        return reach_of(self.knowledge)

    @cached_property
    def belief(self) -> BeliefModel:
        """The compiled model of the same knowledge; for the closer look only."""
        from nopost.diagnosis.belief.posterior import BeliefModel

        return BeliefModel(self.knowledge)


class Check(ABC):
    """One check: its code, its stage and the function that finds the problems."""

    code: ClassVar[ProblemCode]
    stage: ClassVar[Stage] = Stage.CLOSER

    def __init__(self, context: LintContext) -> None:
        self.context = context

    @abstractmethod
    def run(self) -> Iterator[Problem]:
        """All problems of the code, in any order."""

    @property
    def items(self) -> PartialKnowledge:
        """The items that could be read."""
        return self.context.items

    @property
    def knowledge(self) -> m.Knowledge:
        """The whole; for the closer look only."""
        return self.context.knowledge

    def problem(self, folder: str, item: str, where: KeyPath, message: str, hint: str, others: tuple[str, ...] = ()) -> Problem:
        """A problem at a place in an item's file (in base.yaml when the folder is empty). `others`: further items, folder/id."""
        document = self.items.document(folder, item)
        about = (f"{folder}/{item}" if folder else "base", *others)
        return self.code.at(document.path, document.line(where), message, hint, about)


def placed_conditions(items: PartialKnowledge | m.Knowledge) -> Iterator[tuple[str, str, KeyPath, m.Condition]]:
    """Every condition of every item: folder, id, place in the file, condition."""
    for folder in ("findings", "actions", "rules"):
        held = getattr(items, folder)
        for name, item in held.items():
            for place, condition in item.when.placed():
                yield folder, name, ("when", *place), condition
