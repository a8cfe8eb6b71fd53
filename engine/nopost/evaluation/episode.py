"""One episode: a strategy repairs one simulated machine, step by step, under the same rules for all strategies.

The simulator holds what all episodes on one knowledge base share: everything compiled once, prices, the fixed checklist of the
trade that the advice is measured against (`checklist.yaml` beside the knowledge base), and a cache of what was
computed before.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple, TypeVar, cast

from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.advice.available_steps import blocking_hazard, power_blocker
from nopost.diagnosis.belief.evidence import Observations
from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.history import Event, EventKind, History, Person, action_effort, effort_cost, finding_effort
from nopost.diagnosis.replay import replay
from nopost.diagnosis.rules.engine import Inference
from nopost.diagnosis.workplace import fix_cost, look_cost, part_price
from nopost.errors import KnowledgeError
from nopost.evaluation.simulated_machine import SimulatedMachine
from nopost.files import data_dir
from nopost.knowledge.model import Action, Effort, Finding, Knowledge
from nopost.linting.check_checklist import ChecklistEntry, examine_checklist


def read_checklist(knowledge: Knowledge, folder: Path | None = None) -> tuple[ChecklistEntry, ...]:
    """The checklist in a knowledge base's folder (the shipped one when None); empty when there is none. Raises KnowledgeError."""
    entries, problems = examine_checklist(knowledge, folder or data_dir("kb"))
    if problems:
        raise KnowledgeError(problems)
    return entries


T = TypeVar("T")


def state_key(name: str, seen: Observations) -> object:
    """The key under which `Simulator.cached` keeps what `name` computed in just this state of knowledge."""
    return (name, seen.reports, seen.tried, seen.outcomes, seen.stale, seen.outdated, seen.skipped, seen.ready)


class EpisodeStep(NamedTuple):
    """A look at a finding, a fix, or handing over to the shop: its kind and the id of the finding or action."""

    kind: StepKind
    id: str


SHOP = EpisodeStep(StepKind.LAST_RESORT, "shop")


class Simulator:
    """A compiled knowledge base with its checklist (empty: there is none) and the person who works."""

    def __init__(self, knowledge: Knowledge, checklist: Sequence[ChecklistEntry] = (), person: Person | None = None) -> None:
        self.knowledge, self.checklist, self.person = knowledge, tuple(checklist), person or Person()
        self._cache: dict[object, object] = {}
        self.diagnostician = Diagnostician(knowledge)
        self.model = self.diagnostician.model
        self.fixes = tuple(a.id for a in knowledge.actions.values() if a.kind == "fix")
        self.causes_mended_by = {
            a: frozenset(c.id for c in knowledge.causes.values() if c.fixes.get(a, 0.0) > 0) for a in self.fixes
        }
        self.fix_chances = self.model.repair_probabilities(self.fixes)
        self.cost = {step: self.price(step) for step in self._items()}
        self.shop = effort_cost(knowledge, knowledge.base.shop.effort, self.person)

    def cached(self, key: object, compute: Callable[[], T]) -> T:
        """What was computed before under this key; else compute it and keep it."""
        if key not in self._cache:
            self._cache[key] = compute()
        return cast(T, self._cache[key])

    def outcome(self, answers: Mapping[str, str], facts: Mapping[str, str]) -> Inference:
        """What the rules say of these answers."""
        key = ("rules", tuple(sorted(answers.items())), tuple(sorted(facts.items())))
        return self.cached(key, lambda: self.diagnostician.ranker.rules.run(answers, facts))

    def forbids_power(self, outcome: Inference) -> bool:
        """Whether a hazard is raised under which nothing that needs power is done."""
        return bool(blocking_hazard(self.knowledge, outcome))

    def item(self, step: EpisodeStep) -> Finding | Action:
        """The finding or action of a step that is not the shop."""
        return self.knowledge.findings[step.id] if step.kind is StepKind.ASK else self.knowledge.actions[step.id]

    def effort(self, item: Finding | Action) -> Effort:
        """With tools and tests."""
        if isinstance(item, Finding):
            return finding_effort(self.knowledge, item, self.person)
        return action_effort(self.knowledge, item, self.person)

    def price(self, step: EpisodeStep, ready: frozenset[str] = frozenset(), wrong: Sequence[str] = ()) -> float:
        """What a step costs, in money.

        `ready`: preparations that are made; those that the step needs beside are paid. `wrong`: causes that are there, whose
        parts the last resort needs.
        """
        if step.kind is StepKind.LAST_RESORT:
            return self.shop + sum(part_price(self.knowledge.causes[cause], self.knowledge.actions) for cause in wrong)
        cost = look_cost if step.kind is StepKind.ASK else fix_cost
        return self.cached(("price", step, ready), lambda: cost(self.knowledge, step.id, ready, self.person))

    def is_dangerous(self, step: EpisodeStep) -> bool:
        """Whether it can do damage: the knowledge base gives it a risk (its test's and tools' included)."""
        return step.kind is not StepKind.LAST_RESORT and self.effort(self.item(step)).risk > 0

    def _items(self) -> dict[EpisodeStep, Finding | Action]:
        looks = {EpisodeStep(StepKind.ASK, name): item for name, item in self.knowledge.findings.items()}
        return {**looks, **{EpisodeStep(StepKind.DO, name): item for name, item in self.knowledge.actions.items()}}


@dataclass
class Episode:
    """What one strategy did with one machine so far.

    `spent`: money; `steps`: in order, with what came of each; `paid`: money for each.
    """

    simulator: Simulator
    machine: SimulatedMachine
    spent: float = 0.0
    steps: list[tuple[EpisodeStep, str]] = field(default_factory=list)
    paid: list[float] = field(default_factory=list)
    history: History = field(init=False)
    _seen: Observations | None = None

    def __post_init__(self) -> None:
        self.history = History(self.machine.parts)

    @property
    def seen(self) -> Observations:
        """What the strategy knows, as a session would know it."""
        if self._seen is None:
            self._seen = replay(self.history, self.simulator.knowledge)
        return self._seen

    @property
    def outcome(self) -> Inference:
        """What the rules say of what the strategy knows."""
        return self.simulator.outcome(self.seen.current(), self.seen.facts)

    def take(self, step: EpisodeStep) -> str:
        """Take a step and pay for it: the answer, or what came of the fix, or `shop`."""
        price = self.simulator.price(step, self.seen.ready, self.machine.remaining)
        self.spent += price
        self.paid.append(price)
        came = "shop"
        if step.kind is StepKind.ASK:
            kind = EventKind.LOOKED_AGAIN if self.seen.is_second_look(step.id) else EventKind.ANSWER
            came = self.machine.look(step.id)
            self._note(kind, step.id, came)
        elif step.kind is StepKind.DO:
            came = self.machine.do(step.id)
            self._note(EventKind.TRIED, step.id, came)
        self.steps.append((step, came))
        return came

    def is_possible(self, step: EpisodeStep) -> bool:
        """Whether a strategy that looks at no conditions can take a step: they hold in truth, and nothing that it knows
        closes it or forbids power."""
        if step.kind is StepKind.LAST_RESORT:
            return True
        item = self.simulator.item(step)
        known = self.outcome
        if power_blocker(self.simulator.knowledge, known, item):
            return False
        key = ("finding" if step.kind is StepKind.ASK else "action", step.id)
        if key in known.closed or (item.closed and key not in known.opened):
            return False
        test = self.simulator.knowledge.findings[step.id].action if step.kind is StepKind.ASK else ""
        return self.machine.holds(item.when) and (not test or self.is_possible(EpisodeStep(StepKind.DO, test)))

    def skip(self, step: EpisodeStep) -> None:
        """An impossible fix is passed over and costs nothing."""
        self._note(EventKind.SKIPPED, step.id, "")

    def _note(self, kind: EventKind, item: str, value: str) -> None:
        self.history = self.history.with_event(Event(kind, item, value))
        self._seen = None
