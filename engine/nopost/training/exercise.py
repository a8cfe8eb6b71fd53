"""A simulated machine set before an apprentice, and one attempt at it.

The machine is chosen by level, by what is due again, or by a seed for a whole class. An attempt holds every step taken, what
it cost, and what the advice would have given for it.

Afterwards the debrief sets these steps beside the advice's: where effort was lost, and which evidence was overlooked.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.advice.available_steps import AvailableSteps, power_blocker
from nopost.diagnosis.belief.evidence import UNINFORMATIVE_ANSWERS
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.history import EventKind, History, Parts, Person, effort_cost
from nopost.diagnosis.workplace import fix_cost, look_cost
from nopost.evaluation.simulated_machine import SimulatedMachine, hypothesis_of, sample_causes
from nopost.knowledge.model import UNKNOWN, Knowledge, Rule

STARTS = "starts"


@dataclass(frozen=True, slots=True)
class TakenStep:
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

    diagnostician: Diagnostician
    machine: SimulatedMachine
    person: Person
    history: History
    told: tuple[tuple[str, str], ...] = ()
    taken: tuple[TakenStep, ...] = ()
    hints: int = 0
    _kept: dict[int, Diagnosis] = field(default_factory=dict, repr=False, compare=False)

    @property
    def knowledge(self) -> Knowledge:
        """The knowledge it is about."""
        return self.diagnostician.knowledge

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
        return "shop" if last.kind is StepKind.LAST_RESORT else STARTS if last.result == STARTS else ""

    def diagnosis(self) -> Diagnosis:
        """What the advice makes of all that is known."""
        key = len(self.history.events)
        if key not in self._kept:
            self._kept[key] = self.diagnostician.diagnose(self.history)
        return self._kept[key]

    def against(self, kind: StepKind, name: str) -> str:
        """The rule or the hazard that says not to take this step now; "" when none does."""
        if kind is StepKind.LAST_RESORT:
            return ""
        outcome = self.diagnosis().inference
        item = self.knowledge.findings[name] if kind is StepKind.ASK else self.knowledge.actions[name]
        stops = power_blocker(self.knowledge, outcome, item)
        return stops or outcome.closed.get(("finding" if kind is StepKind.ASK else "action", name), "")

    def take(self, kind: StepKind, name: str) -> Attempt:
        """The attempt with one more step, which the machine answers."""
        now = self.diagnosis()
        total, least = self._totals(now, kind, name)
        result, history = self._worked(kind, name)
        best = now.advice.step.id
        step = TakenStep(kind, name, result, self.price(kind, name), total, least, best, self.against(kind, name))
        return replace(self, history=history, taken=(*self.taken, step), _kept={})

    def _totals(self, now: Diagnosis, kind: StepKind, name: str) -> tuple[float, float]:
        """Expected cost with this step next, and with the best one. What the advice itself says, or asks first, loses nothing."""
        seen = now.seen
        offers = AvailableSteps(self.knowledge, seen, now.inference)
        total = self.diagnostician.adviser.expected_total_cost((kind, name), offers, now.evidence, now.posterior, self.person)
        first = {f.id for f in offers.questions()} & {*now.inference.first, *seen.stale}
        first |= {a.id for a in offers.fixes()} & now.inference.do_first.keys()
        if (kind, name) == (now.advice.step.kind, now.advice.step.id) or name in first:
            return total, total
        return total, min(total, *(step.expected_total_cost for step in (now.advice.step, *now.advice.others)))

    def hinted(self) -> Attempt:
        """The attempt with one more hint given."""
        return replace(self, hints=self.hints + 1)

    def price(self, kind: StepKind, name: str) -> float:
        """What a step costs, in money."""
        if kind is StepKind.LAST_RESORT:
            return effort_cost(self.knowledge, self.knowledge.base.shop.effort, self.person)
        cost = look_cost if kind is StepKind.ASK else fix_cost
        return cost(self.knowledge, name, self.diagnosis().seen.ready, self.person)

    def _worked(self, kind: StepKind, name: str) -> tuple[str, History]:
        """What the machine shows, and the history that knows it."""
        if kind is StepKind.LAST_RESORT:
            return "shop", self.history
        if kind is StepKind.ASK:
            again = self.diagnosis().seen.is_second_look(name)
            answer = self.machine.look(name)
            return answer, self.history.add(EventKind.LOOKED_AGAIN if again else EventKind.ANSWER, name, answer)
        outcome = self.machine.do(name)
        return outcome, self.history.add(EventKind.TRIED, name, outcome)


def begin_attempt(diagnostician: Diagnostician, causes: Iterable[str], seed: int) -> Attempt:
    """A fresh machine with these causes, its owner's complaint already heard, every tool of the bench at hand."""
    knowledge = diagnostician.knowledge
    machine = SimulatedMachine(diagnostician.model, causes, seed)
    person = Person(at_hand=frozenset(knowledge.base.tools))
    history = History(Parts(at_hand=person.at_hand))
    told = []
    for finding in knowledge.base.opening:
        answer = machine.look(finding)
        told.append((finding, answer))
        history = history.add(EventKind.ANSWER, finding, answer)
    return Attempt(diagnostician, machine, person, history, tuple(told))


def play_by_advice(attempt: Attempt, most: int = 60) -> Attempt:
    """The same machine worked on by the advice to the end; the shop after `most` steps."""
    while not attempt.ended:
        step = attempt.diagnosis().advice.step
        if len(attempt.taken) >= most:
            return attempt.take(StepKind.LAST_RESORT, "shop")
        attempt = attempt.take(step.kind, step.id)
    return attempt


def reason_against(knowledge: Knowledge, against: str) -> str:
    """In words, why a step was not to be taken."""
    rule: Rule | None = knowledge.rules.get(against)
    return rule.because if rule else knowledge.hazards[against].caution


LEVELS = {"first": (3, 9), "second": (6, 15), "third": (8, 40)}
"""Level -> how many steps the advice takes at least and at most (judgement)."""
MOST_DRAWS = 60
"""So many machines are drawn at most until one is of the level; then the nearest is taken."""
MACHINE_SEEDS = 2**32


@dataclass(frozen=True)
class Exercise:
    """A machine for an apprentice, and how the advice gets it going. `seed`: what draws it again, None when nothing does."""

    seed: int | None
    level: str
    attempt: Attempt
    model: Attempt

    @property
    def causes(self) -> tuple[str, ...]:
        """What is wrong with it."""
        return self.attempt.machine.causes


def draw_exercise(diagnostician: Diagnostician, seed: int, level: str, cause: str = "") -> Exercise:
    """The exercise of a seed, with `cause` when one is to be practised; two faults come only in the third level."""
    rng = random.Random(f"{seed} {level}")
    nearest: tuple[int, Exercise] | None = None
    for _ in range(MOST_DRAWS):
        causes = sample_causes(diagnostician.model, rng, two_faults=level == "third", cause=cause)
        exercise = set_up_exercise(diagnostician, causes, rng.randrange(MACHINE_SEEDS), level, None if cause else seed)
        away = _away(exercise)
        if nearest is None or away < nearest[0]:
            nearest = away, exercise
        if away == 0:
            break
    assert nearest is not None  # at least one was drawn
    return nearest[1]


def set_up_exercise(
    diagnostician: Diagnostician, causes: Sequence[str], machine: int, level: str = "", seed: int | None = None
) -> Exercise:
    """An exercise with these causes; `machine` is the seed of what it shows."""
    attempt = begin_attempt(diagnostician, causes, machine)
    return Exercise(seed, level, attempt, play_by_advice(begin_attempt(diagnostician, causes, machine)))


def _away(exercise: Exercise) -> int:
    """How far a machine is from its level; one that the advice gives to the shop is farthest."""
    low, high = LEVELS[exercise.level]
    steps = len(exercise.model.taken)
    return max(low - steps, steps - high, 0) + (exercise.model.ended != "starts") * high


MOST_TOLD = 3
"""So many pieces of evidence are named."""
LEAST_DECIBANS = 3.0
"""Decibans from which an answer is worth naming: a factor of two on the odds (judgement)."""


@dataclass(frozen=True, slots=True)
class Clue:
    """An answer and how strongly it points to what was wrong, in decibans; `step`: when it was seen, 0 by the owner, -1 never."""

    finding: str
    answer: str
    decibans: float
    step: int


@dataclass(frozen=True, slots=True)
class Debrief:
    """`losses`: steps whose choice lost most, with their number; `quality`: 0 to 5 for the schedule."""

    spent: float
    model_spent: float
    losses: tuple[tuple[int, TakenStep], ...]
    clues: tuple[Clue, ...]
    overlooked: tuple[Clue, ...]
    slips: int
    named: bool
    quality: int


def debrief(exercise: Exercise, done: Attempt, named: str) -> Debrief:
    """What is to be said of an attempt that ended; `named`: the cause that the apprentice named, or ""."""
    clues = sorted(_clues(done), key=lambda clue: -clue.decibans)
    losses = sorted(enumerate(done.taken, 1), key=lambda pair: -pair[1].loss)
    slips = sum(bool(step.against) for step in done.taken)
    right = named in exercise.causes
    return Debrief(
        spent=done.spent,
        model_spent=exercise.model.spent,
        losses=tuple(pair for pair in losses[:MOST_TOLD] if pair[1].loss > 0.01 * max(exercise.model.spent, 1.0)),
        clues=tuple(clue for clue in clues if clue.step >= 0)[:MOST_TOLD],
        overlooked=tuple(clue for clue in clues if clue.step < 0)[:MOST_TOLD],
        slips=slips,
        named=right,
        quality=quality(exercise, done, right, slips),
    )


def quality(exercise: Exercise, done: Attempt, named: bool, slips: int) -> int:
    """0 to 5, as the schedule wants it (5 without fault, below 3 to be learned again): effort first, then the cause, care and
    help. Its bounds are judgement."""
    share = exercise.model.spent / done.spent if done.spent else 1.0
    base = 5 if share >= 0.85 else 4 if share >= 0.6 else 3 if share >= 0.35 else 2
    if done.ended != exercise.model.ended:
        base = min(base, 2 if done.ended == "shop" else 5)
    return max(0, base - (not named) - slips - min(done.hints, 2))


def _clues(done: Attempt) -> Iterator[Clue]:
    """What the machine shows for its true causes against what dead machines show on the whole."""
    seen = {event.item: event.value for event in done.history.events if event.kind is EventKind.ANSWER}
    steps = {step.id: number for number, step in enumerate(done.taken, 1) if step.kind is StepKind.ASK}
    for finding in done.knowledge.findings.values():
        if not finding.question or finding.id not in done.diagnostician.model.informative_findings:
            continue
        told = finding.id in seen
        answer = seen[finding.id] if told else _untouched_answer(done, finding.id)
        decibans = _weight_of_evidence(done, finding.id, answer)
        if decibans >= LEAST_DECIBANS:
            yield Clue(finding.id, answer, decibans, steps.get(finding.id, 0) if told else -1)


def _untouched_answer(done: Attempt, finding: str) -> str:
    """What the untouched machine shows; nothing when there is nothing to see."""
    fresh = SimulatedMachine(done.diagnostician.model, done.machine.causes, done.machine.seed)
    return fresh.true_answer(finding) if fresh.can_be_seen(finding) else UNKNOWN


def _weight_of_evidence(done: Attempt, finding: str, answer: str) -> float:
    """10 log10 of P(answer | the true causes) over P(answer | any dead machine) (Good)."""
    if answer in UNINFORMATIVE_ANSWERS:
        return 0.0
    model = done.diagnostician.model
    column = model.reported_answer_tables[finding][:, model.answer_index[finding][answer]]
    there = hypothesis_of(model, done.machine.causes)
    return float(10 * np.log10(column[there] / (np.exp(model.hypotheses.log_prior) @ column)))
