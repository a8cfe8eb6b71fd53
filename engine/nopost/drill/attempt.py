"""One go at a simulated machine: every step taken, what it cost, and what the advice would have given for it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from nopost.advice.assess import Assessment, Assessor
from nopost.advice.effort import Person, action_effort, cost, finding_effort
from nopost.advice.offers import Offers, halting
from nopost.advice.step import StepKind
from nopost.cases.session import EventKind, Session, new_session, observations
from nopost.knowledge.model import Knowledge, Rule
from nopost.trial.machine import DeadMachine

STARTS = "starts"


@dataclass(frozen=True, slots=True)
class Taken:
    """A step that was taken. `cost`: its effort in money; `total`: expected cost from there with it, `best`: with the best step
    `best_id`; `against`: the rule, or the hazard that stops work, which it went against."""

    kind: StepKind
    id: str
    result: str
    cost: float
    total: float
    best: float
    best_id: str
    against: str = ""

    @property
    def loss(self) -> float:
        """What the choice is expected to have lost; luck does not count."""
        return max(self.total - self.best, 0.0)


@dataclass(frozen=True)
class Attempt:
    """What was done so far with one machine. `told`: what its owner says; `hints`: how often one was asked for."""

    assessor: Assessor
    machine: DeadMachine
    person: Person
    session: Session
    told: tuple[tuple[str, str], ...] = ()
    taken: tuple[Taken, ...] = ()
    hints: int = 0
    _kept: dict[int, Assessment] = field(default_factory=dict, repr=False, compare=False)

    @property
    def knowledge(self) -> Knowledge:
        """The knowledge it is about."""
        return self.assessor.knowledge

    @property
    def spent(self) -> float:
        """Effort so far, in money; what the owner says is free."""
        return sum(step.cost for step in self.taken)

    @property
    def ended(self) -> str:
        """How it ended: `starts`, `shop`, or "" while it goes on."""
        last = self.taken[-1] if self.taken else None
        if last is None:
            return ""
        return "shop" if last.kind is StepKind.SHOP else STARTS if last.result == STARTS else ""

    def assessment(self) -> Assessment:
        """What the advice makes of all that is known."""
        key = len(self.session.events)
        if key not in self._kept:
            self._kept[key] = self.assessor.assess(observations(self.session, self.knowledge), self.person)
        return self._kept[key]

    def against(self, kind: StepKind, name: str) -> str:
        """The rule or the hazard that says not to take this step now; "" when none does."""
        if kind is StepKind.SHOP:
            return ""
        outcome = self.assessment().outcome
        item = self.knowledge.findings[name] if kind is StepKind.ASK else self.knowledge.actions[name]
        stops = halting(self.knowledge, outcome, name if kind is StepKind.DO else "") if item.powered else ""
        return stops or outcome.closed.get(("finding" if kind is StepKind.ASK else "action", name), "")

    def take(self, kind: StepKind, name: str) -> Attempt:
        """The attempt with one more step, which the machine answers."""
        now = self.assessment()
        total, least = self._totals(now, kind, name)
        result, session = self._worked(kind, name)
        best = now.advice.step.id
        step = Taken(kind, name, result, self.price(kind, name), total, least, best, self.against(kind, name))
        return replace(self, session=session, taken=(*self.taken, step), _kept={})

    def _totals(self, now: Assessment, kind: StepKind, name: str) -> tuple[float, float]:
        """Expected cost with this step next, and with the best one. What the advice itself says, or asks first, loses nothing."""
        seen = observations(self.session, self.knowledge)
        offers = Offers(self.knowledge, seen, now.outcome)
        total = self.assessor.adviser.total((kind, name), offers, now.evidence, now.posterior, self.person)
        first = {f.id for f in offers.questions()} & {*now.outcome.first, *seen.stale}
        first |= {a.id for a in offers.fixes()} & now.outcome.do_first.keys()
        if (kind, name) == (now.advice.step.kind, now.advice.step.id) or name in first:
            return total, total
        return total, min(total, *(step.total for step in (now.advice.step, *now.advice.others)))

    def hinted(self) -> Attempt:
        """The attempt with one more hint given."""
        return replace(self, hints=self.hints + 1)

    def price(self, kind: StepKind, name: str) -> float:
        """What a step costs, in money."""
        if kind is StepKind.SHOP:
            return cost(self.knowledge, self.knowledge.base.shop.effort, self.person)
        if kind is StepKind.ASK:
            return cost(self.knowledge, finding_effort(self.knowledge, self.knowledge.findings[name], self.person), self.person)
        return cost(self.knowledge, action_effort(self.knowledge, self.knowledge.actions[name], self.person), self.person)

    def _worked(self, kind: StepKind, name: str) -> tuple[str, Session]:
        """What the machine shows, and the session that knows it."""
        if kind is StepKind.SHOP:
            return "shop", self.session
        if kind is StepKind.ASK:
            answer = self.machine.look(name)
            return answer, self.session.add(EventKind.ANSWER, name, answer)
        outcome = self.machine.do(name)
        return outcome, self.session.add(EventKind.TRIED, name, outcome)


def begin(assessor: Assessor, causes: Iterable[str], seed: int) -> Attempt:
    """A fresh machine with these causes, its owner's complaint already heard, every tool of the bench at hand."""
    knowledge = assessor.knowledge
    machine = DeadMachine(assessor.model, causes, seed)
    session = new_session("drill", knowledge)
    told = []
    for finding in knowledge.base.opening:
        answer = machine.look(finding)
        told.append((finding, answer))
        session = session.add(EventKind.ANSWER, finding, answer)
    person = Person(at_hand=frozenset(knowledge.base.tools))
    return Attempt(assessor, machine, person, session, tuple(told))


def play(attempt: Attempt, most: int = 60) -> Attempt:
    """The same machine worked on by the advice to the end; the shop after `most` steps."""
    while not attempt.ended:
        step = attempt.assessment().advice.step
        if len(attempt.taken) >= most:
            return attempt.take(StepKind.SHOP, "shop")
        attempt = attempt.take(step.kind, step.id)
    return attempt


def because(knowledge: Knowledge, against: str) -> str:
    """In words, why a step was not to be taken."""
    rule: Rule | None = knowledge.rules.get(against)
    return rule.because if rule else knowledge.hazards[against].caution
