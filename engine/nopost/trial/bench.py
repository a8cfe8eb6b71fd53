"""What all games on one knowledge base share: everything compiled once, and what was thought before."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from enum import StrEnum
from typing import NamedTuple, TypeVar, cast

from nopost.advice.assess import Assessor
from nopost.advice.effort import Person, action_effort, cost, finding_effort
from nopost.advice.observations import Observations
from nopost.advice.offers import halting
from nopost.knowledge.model import Action, Effort, Finding, Knowledge
from nopost.rules.outcome import Outcome
from nopost.trial.checklist import Entry

T = TypeVar("T")


class Kind(StrEnum):
    """What can be done next."""

    LOOK = "look"
    DO = "do"
    SHOP = "shop"


class Move(NamedTuple):
    """One move: what, and of which finding or action."""

    kind: Kind
    id: str


SHOP = Move(Kind.SHOP, "shop")


class Bench:
    """A compiled knowledge base with its checklist (empty: there is none) and the person who works."""

    def __init__(self, knowledge: Knowledge, checklist: Sequence[Entry] = (), person: Person | None = None) -> None:
        self.knowledge, self.checklist, self.person = knowledge, tuple(checklist), person or Person()
        self.assessor = Assessor(knowledge)
        self.model = self.assessor.model
        self.fixes = tuple(a.id for a in knowledge.actions.values() if a.kind == "fix")
        self.mending = {a: frozenset(c.id for c in knowledge.causes.values() if c.fixes.get(a, 0.0) > 0) for a in self.fixes}
        self.chances = self.model.chances(self.fixes)
        self.cost = {name: cost(knowledge, self.effort(item), self.person) for name, item in self._items().items()}
        self.shop = cost(knowledge, knowledge.base.shop.effort, self.person)
        self._thought: dict[object, object] = {}

    def remember(self, what: str, seen: Observations, think: Callable[[], T]) -> T:
        """What was thought before in just this state; else think and keep it."""
        return self.recall((what, seen.reports, seen.tried, seen.stale, seen.outdated, seen.skipped), think)

    def recall(self, key: object, think: Callable[[], T]) -> T:
        """What was thought before under this key; else think and keep it."""
        if key not in self._thought:
            self._thought[key] = think()
        return cast(T, self._thought[key])

    def outcome(self, answers: Mapping[str, str], facts: Mapping[str, str]) -> Outcome:
        """What the rules say of these answers."""
        key = ("rules", tuple(sorted(answers.items())), tuple(sorted(facts.items())))
        return self.recall(key, lambda: self.assessor.rules.run(answers, facts))

    def stops(self, outcome: Outcome) -> bool:
        """Whether a hazard is raised under which nothing that needs power is done."""
        return bool(halting(self.knowledge, outcome))

    def item(self, move: Move) -> Finding | Action:
        """The finding or action of a move that is not the shop."""
        return self.knowledge.findings[move.id] if move.kind is Kind.LOOK else self.knowledge.actions[move.id]

    def effort(self, item: Finding | Action) -> Effort:
        """With tools and tests."""
        if isinstance(item, Finding):
            return finding_effort(self.knowledge, item, self.person)
        return action_effort(self.knowledge, item, self.person)

    def price(self, move: Move) -> float:
        """What a move costs, in money."""
        return self.shop if move.kind is Kind.SHOP else self.cost[move]

    def is_dangerous(self, move: Move) -> bool:
        """Whether it can do damage: the knowledge base gives it a risk (its test's and tools' included)."""
        return move.kind is not Kind.SHOP and self.effort(self.item(move)).risk > 0

    def _items(self) -> dict[Move, Finding | Action]:
        looks = {Move(Kind.LOOK, name): item for name, item in self.knowledge.findings.items()}
        return {**looks, **{Move(Kind.DO, name): item for name, item in self.knowledge.actions.items()}}
