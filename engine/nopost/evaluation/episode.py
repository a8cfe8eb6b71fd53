"""One episode: a strategy repairs one simulated machine, step by step, under the same rules for all strategies.

The simulator holds what all episodes on one knowledge base share: everything compiled once, prices, the fixed checklist of the
trade that the advice is measured against (`checklist.yaml` beside the knowledge base), and what was reckoned before.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple, TypeVar, cast

from nopost.diagnosis.advice.available_steps import AvailableSteps, blocking_hazard
from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.effort import Person, action_effort, effort_cost, finding_effort
from nopost.diagnosis.history import Event, EventKind, History
from nopost.diagnosis.observations import Observations
from nopost.diagnosis.replay import replay
from nopost.diagnosis.rules.inference import Inference
from nopost.errors import KnowledgeError
from nopost.evaluation.simulated_machine import SimulatedMachine
from nopost.knowledge.model import Action, Effort, Finding, Knowledge
from nopost.linting.check_checklist import ChecklistEntry, examine_checklist
from nopost.paths import data_dir

__all__ = ["ChecklistEntry", "read_checklist"]


def read_checklist(knowledge: Knowledge, folder: Path | None = None) -> tuple[ChecklistEntry, ...]:
    """The checklist in a knowledge base's folder (the shipped one when None); empty when there is none. Raises KnowledgeError."""
    entries, problems = examine_checklist(knowledge, folder or data_dir("kb"))
    if problems:
        raise KnowledgeError(problems)
    return entries


T = TypeVar("T")


class EpisodeStepKind(StrEnum):
    """What can be done next."""

    LOOK = "look"
    DO = "do"
    SHOP = "shop"


class EpisodeStep(NamedTuple):
    """One move: what, and of which finding or action."""

    kind: EpisodeStepKind
    id: str


SHOP = EpisodeStep(EpisodeStepKind.SHOP, "shop")


class Simulator:
    """A compiled knowledge base with its checklist (empty: there is none) and the person who works."""

    def __init__(self, knowledge: Knowledge, checklist: Sequence[ChecklistEntry] = (), person: Person | None = None) -> None:
        self.knowledge, self.checklist, self.person = knowledge, tuple(checklist), person or Person()
        self.assessor = Diagnostician(knowledge)
        self.model = self.assessor.model
        self.fixes = tuple(a.id for a in knowledge.actions.values() if a.kind == "fix")
        self.mending = {a: frozenset(c.id for c in knowledge.causes.values() if c.fixes.get(a, 0.0) > 0) for a in self.fixes}
        self.chances = self.model.repair_probabilities(self.fixes)
        self.cost = {name: effort_cost(knowledge, self.effort(item), self.person) for name, item in self._items().items()}
        self.shop = effort_cost(knowledge, knowledge.base.shop.effort, self.person)
        self._thought: dict[object, object] = {}

    def remember(self, what: str, seen: Observations, think: Callable[[], T]) -> T:
        """What was thought before in just this state; else think and keep it."""
        return self.recall((what, seen.reports, seen.tried, seen.stale, seen.outdated, seen.skipped), think)

    def recall(self, key: object, think: Callable[[], T]) -> T:
        """What was thought before under this key; else think and keep it."""
        if key not in self._thought:
            self._thought[key] = think()
        return cast(T, self._thought[key])

    def outcome(self, answers: Mapping[str, str], facts: Mapping[str, str]) -> Inference:
        """What the rules say of these answers."""
        key = ("rules", tuple(sorted(answers.items())), tuple(sorted(facts.items())))
        return self.recall(key, lambda: self.assessor.ranker.rules.run(answers, facts))

    def stops(self, outcome: Inference) -> bool:
        """Whether a hazard is raised under which nothing that needs power is done."""
        return bool(blocking_hazard(self.knowledge, outcome))

    def item(self, move: EpisodeStep) -> Finding | Action:
        """The finding or action of a move that is not the shop."""
        return self.knowledge.findings[move.id] if move.kind is EpisodeStepKind.LOOK else self.knowledge.actions[move.id]

    def effort(self, item: Finding | Action) -> Effort:
        """With tools and tests."""
        if isinstance(item, Finding):
            return finding_effort(self.knowledge, item, self.person)
        return action_effort(self.knowledge, item, self.person)

    def price(self, move: EpisodeStep) -> float:
        """What a move costs, in money."""
        return self.shop if move.kind is EpisodeStepKind.SHOP else self.cost[move]

    def is_dangerous(self, move: EpisodeStep) -> bool:
        """Whether it can do damage: the knowledge base gives it a risk (its test's and tools' included)."""
        return move.kind is not EpisodeStepKind.SHOP and self.effort(self.item(move)).risk > 0

    def _items(self) -> dict[EpisodeStep, Finding | Action]:
        looks = {EpisodeStep(EpisodeStepKind.LOOK, name): item for name, item in self.knowledge.findings.items()}
        return {**looks, **{EpisodeStep(EpisodeStepKind.DO, name): item for name, item in self.knowledge.actions.items()}}


@dataclass
class Episode:
    """What one strategy did with one machine so far. `spent`: money; `moves`: in order, with what came of each."""

    bench: Simulator
    machine: SimulatedMachine
    spent: float = 0.0
    moves: list[tuple[EpisodeStep, str]] = field(default_factory=list)
    history: History = field(init=False)
    _seen: Observations | None = None

    def __post_init__(self) -> None:
        self.history = History(self.machine.parts)

    @property
    def seen(self) -> Observations:
        """What the strategy knows, as a session would know it."""
        if self._seen is None:
            self._seen = replay(self.history, self.bench.knowledge)
        return self._seen

    @property
    def outcome(self) -> Inference:
        """What the rules say of what the strategy knows."""
        return self.bench.outcome(self.seen.current(), self.seen.facts)

    def offers(self) -> AvailableSteps:
        """What the strategy may choose from, by what it knows."""
        return AvailableSteps(self.bench.knowledge, self.seen, self.outcome)

    def make(self, move: EpisodeStep) -> str:
        """Make a move and pay for it: the answer, or what came of the fix, or `shop`."""
        self.spent += self.bench.price(move)
        came = "shop"
        if move.kind is EpisodeStepKind.LOOK:
            came = self.machine.look(move.id)
            self._note(EventKind.ANSWER, move.id, came)
        elif move.kind is EpisodeStepKind.DO:
            came = self.machine.do(move.id)
            self._note(EventKind.TRIED, move.id, came)
        self.moves.append((move, came))
        return came

    def is_possible(self, move: EpisodeStep) -> bool:
        """Whether a strategy that looks at no conditions can make a move: they hold in truth, and nothing that it knows
        closes it or forbids power."""
        if move.kind is EpisodeStepKind.SHOP:
            return True
        item = self.bench.item(move)
        known = self.outcome
        if item.powered and self.bench.stops(known):
            return False
        key = ("finding" if move.kind is EpisodeStepKind.LOOK else "action", move.id)
        if key in known.closed or (item.closed and key not in known.opened):
            return False
        test = self.bench.knowledge.findings[move.id].action if move.kind is EpisodeStepKind.LOOK else ""
        return self.machine.holds(item.when) and (not test or self.is_possible(EpisodeStep(EpisodeStepKind.DO, test)))

    def skip(self, move: EpisodeStep) -> None:
        """An impossible fix is passed over and costs nothing."""
        self._note(EventKind.SKIPPED, move.id, "")

    def _note(self, kind: EventKind, item: str, value: str) -> None:
        self.history = self.history.with_event(Event(kind, item, value))
        self._seen = None
