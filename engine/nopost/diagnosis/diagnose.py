"""A diagnosis: knowledge and a history in, ranked causes, explanation and next step out. A pure function.

The `Ranker` runs rules and belief, which is all that many logs need; the `Diagnostician` adds the advice. Of a diagnosis follow
predictions: the answers to a question, and the causes given that a repair succeeded.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from nopost.diagnosis.advice.adviser import Advice, Adviser, Step, StepKind
from nopost.diagnosis.advice.available_steps import AvailableSteps
from nopost.diagnosis.belief.evidence import Evidence, Observations, Report
from nopost.diagnosis.belief.explanation import (
    Conflict,
    InconsistentAnswers,
    WeightOfEvidence,
    conflict_measure,
    inconsistent_answers,
    weights_of_evidence,
)
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.history import History, Person, check_event
from nopost.diagnosis.inventory import person_here
from nopost.diagnosis.replay import Edition, replay
from nopost.diagnosis.rules.engine import DerivedAnswer, Inference, RuleEngine
from nopost.knowledge.model import Knowledge


@dataclass(frozen=True)
class Ranked:
    """What the observations make of the causes. `ranking`: (cause, probability), falling; `unlisted`: of none of them."""

    ranking: tuple[tuple[str, float], ...]
    unlisted: float
    inference: Inference
    evidence: Evidence
    posterior: Floats


class Ranker:
    """Rules and belief compiled once for a knowledge base; `rank` has no memory."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.rules = RuleEngine(knowledge.rules)
        self.model = BeliefModel(knowledge)

    def rank(self, seen: Observations) -> Ranked:
        """Rules, then belief."""
        inference = self.rules.run(seen.current(), seen.facts).once_asked(seen.asked())
        evidence = self.evidence(seen, inference)
        posterior = self.model.posterior(evidence)
        marginals = self.model.hypotheses.marginals(posterior)
        ranking = ranked(self.model.hypotheses.causes, marginals)
        return Ranked(ranking, float(posterior[-1]), inference, evidence, posterior)

    def evidence(self, seen: Observations, inference: Inference) -> Evidence:
        """The evidence that the belief counts: reports, failed fixes, and what rules add."""
        derived = [Report(name, d.answer) for name, d in inference.derived.items() if self.counts(name, d)]
        return Evidence(
            reports=(*seen.telling(), *derived),
            failed_repairs=seen.tried,
            rule_weights=tuple((w.cause, w.decibans, w.rule) for w in inference.weights),
            ruled_out=frozenset(inference.ruled_out),
            unchanged=seen.unchanged,
            outcomes=seen.outcomes,
        )

    def counts(self, finding: str, derived: DerivedAnswer) -> bool:
        """A derived answer is evidence of its own only when nothing it rests on is evidence already."""
        return finding in self.model.informative_findings and not (derived.premises & self.model.informative_findings)


def ranked(names: Iterable[str], probabilities: Iterable[float]) -> tuple[tuple[str, float], ...]:
    """(name, probability), falling; equal ones by name."""
    return tuple(sorted(zip(names, map(float, probabilities), strict=True), key=lambda p: (-p[1], p[0])))


CERTAIN = 0.95
"""A cause is called found from this probability on (judgement)."""
UNLISTED_LEADS = 0.5
CONFLICT_BITS = 3.0
"""An answer is to be checked when without it the others go together better by more than this many bits: measured on planted
wrong answers, 95 of 100 named are the wrong one, and 1 in 100 sessions without one is troubled for nothing."""


@dataclass(frozen=True)
class Diagnosis:
    """What follows from a history.

    `seen`: the history as observations. `ranking`: (cause, probability that it was there at the start), falling, as learning and
    case files need it; `unlisted`: probability of none of them. `remaining`: (cause, probability that it is still there, after
    all fixes), falling, as faces show it; `areas`: (area, probability that something in it is still wrong), falling.
    `advice`: the next step and others. `inference`: what the rules say. `evidence`: what the belief counted; `posterior`: (H,)
    probabilities of its hypotheses at the start, `current` of what is still wrong. `stopped`: a hazard or a rule is there under
    which nothing that needs power is done, but for its exceptions. `conflict`: the answer that does not go with the others, if
    any; `inconsistent`: answers that cannot both be.
    """

    seen: Observations
    ranking: tuple[tuple[str, float], ...]
    unlisted: float
    advice: Advice
    inference: Inference
    evidence: Evidence
    posterior: Floats
    stopped: bool
    conflict: Conflict | None
    inconsistent: tuple[InconsistentAnswers, ...] = ()
    current: Floats = field(default_factory=lambda: np.zeros(0))
    remaining: tuple[tuple[str, float], ...] = ()
    areas: tuple[tuple[str, float], ...] = ()

    @property
    def verdict(self) -> str:
        """open, cause-found, no-listed-cause or shop."""
        if self.remaining and self.remaining[0][1] >= CERTAIN:
            return "cause-found"
        if self.unlisted >= UNLISTED_LEADS:
            return "no-listed-cause"
        return "shop" if self.advice.step.kind is StepKind.LAST_RESORT else "open"


def diagnose(knowledge: Knowledge, history: History) -> Diagnosis:
    """What a history comes to for a knowledge base: causes with their probability, and the next step.

    `knowledge`: from `nopost.load`. `history`: what is known of the machine; an empty one gives the first question. Pure, and it
    reads no file: records that the parts name by a file are put into the knowledge base before, with `nopost.with_records`. The
    first call for a knowledge base compiles it (some tenths of a second), later ones take milliseconds. Raises UnknownNameError
    for an event that names a finding, an answer, an action or a code table that the knowledge base does not have.

    >>> import nopost
    >>> knowledge = nopost.load()
    >>> found = nopost.diagnose(knowledge, nopost.History())
    >>> found.advice.step.kind.value
    'ask'
    """
    for event in history.events:
        check_event(knowledge, event)
    return diagnostician_for(knowledge).diagnose(history)


def diagnostician_for(knowledge: Knowledge) -> Diagnostician:
    """The compiled knowledge base, compiled once for each edition; with the records that this very knowledge holds."""
    compiled = _compiled(Edition.of(knowledge))
    return compiled if compiled.knowledge is knowledge else Diagnostician(knowledge, compiled.ranker)


@lru_cache(maxsize=4)
def _compiled(edition: Edition) -> Diagnostician:
    return Diagnostician(edition.knowledge)


class Diagnostician:
    """A compiled knowledge base: rules, belief and advice. It has no memory of what it diagnosed.

    `ranker`: rules and belief that were compiled before for the same knowledge, but for records of boards and CPUs.
    """

    def __init__(self, knowledge: Knowledge, ranker: Ranker | None = None) -> None:
        self.knowledge = knowledge
        self.ranker = ranker or Ranker(knowledge)
        self.adviser = Adviser(self.model)

    @property
    def model(self) -> BeliefModel:
        """The belief."""
        return self.ranker.model

    def diagnose(self, history: History) -> Diagnosis:
        """Replay, then rules, then belief, then advice."""
        seen = replay(history, self.knowledge)
        return self.assess(seen, person_here(self.knowledge, history.parts, seen.facts))

    def assess(self, seen: Observations, person: Person | None = None) -> Diagnosis:
        """The same from observations."""
        found = self.ranker.rank(seen)
        now = self.model.current_posterior(found.posterior, found.evidence)
        available = AvailableSteps(self.knowledge, seen, found.inference)
        return Diagnosis(
            seen=seen,
            ranking=found.ranking,
            unlisted=found.unlisted,
            advice=self.adviser.advise(available, found.evidence, found.posterior, person or Person()),
            inference=found.inference,
            evidence=found.evidence,
            posterior=found.posterior,
            stopped=available.power_forbidden,
            conflict=self._conflict(found.evidence),
            inconsistent=inconsistent_answers(self.knowledge, seen),
            current=now,
            remaining=ranked(self.model.hypotheses.causes, self.model.hypotheses.marginals(now)),
            areas=self._areas(now),
        )

    def step_for(self, diagnosis: Diagnosis, kind: StepKind, name: str, person: Person) -> Step:
        """A step that a person chooses instead of the advised one, with what it costs and what is to be expected from there.

        One that is not available costs its effort for nothing. A question that was answered is answered anew, which is no second
        look. `name`: id of the finding or action; for the last resort any.
        """
        advice = diagnosis.advice
        advised = next((s for s in (advice.step, *advice.others) if (s.kind, s.id, s.again) == (kind, name, False)), None)
        if advised is not None:
            return advised
        available = AvailableSteps(self.knowledge, diagnosis.seen, diagnosis.inference)
        own = self.adviser.own_cost((kind, name), person)
        total = self.adviser.expected_total_cost((kind, name), available, diagnosis.evidence, diagnosis.posterior, person)
        return Step(kind, name, own, total, self._chance(diagnosis, name) if kind is StepKind.DO else 0.0)

    def weights(self, diagnosis: Diagnosis, cause: str) -> list[WeightOfEvidence]:
        """What each piece of evidence did for a cause."""
        return weights_of_evidence(self.model, diagnosis.evidence, cause)

    def _chance(self, diagnosis: Diagnosis, fix: str) -> float:
        """Probability that a fix starts the machine now: that it mends all that is still wrong."""
        h, now = self.model.hypotheses, diagnosis.current
        chance = self.model.repair_probabilities([fix])[:, 0]
        both = chance[h.first[h.pairs]] * chance[h.second[h.pairs]]
        return float(now[: len(chance)] @ chance + now[h.pairs] @ both)

    def _areas(self, now: Floats) -> tuple[tuple[str, float], ...]:
        """Each area with the probability that at least one cause of it is still there: a pair within one area counts once."""
        h, base, causes = self.model.hypotheses, self.knowledge.base, self.knowledge.causes
        place = {area: k for k, area in enumerate(base.area_titles)}
        of_cause = np.array([place[base.area_of(causes[cause])] for cause in h.causes], dtype=np.intp)
        first, second = of_cause[h.first[:-1]], of_cause[h.second[:-1]]
        apart = first != second
        total = np.bincount(first, now[:-1], len(place)) + np.bincount(second[apart], now[:-1][apart], len(place))
        return ranked(place, total)

    def _conflict(self, evidence: Evidence) -> Conflict | None:
        found = conflict_measure(self.model, evidence)
        return found if found is not None and found.bits - found.bits_without > CONFLICT_BITS else None


def cause_given_repair_success(
    knowledge: Knowledge, diagnosis: Diagnosis, actions: Sequence[str]
) -> tuple[tuple[str, float], ...]:
    """(cause, share) falling, shares sum to 1: what was still wrong before the fixes, times the chance that one of them mends it.

    With fixes that are known to mend none of the causes, the belief itself.
    """
    fixes = {cause: knowledge.causes[cause].fixes for cause, _ in diagnosis.remaining}
    chance = {cause: 1 - math.prod(1 - of_cause.get(a, 0.0) for a in actions) for cause, of_cause in fixes.items()}
    products = [(cause, p * chance[cause]) for cause, p in diagnosis.remaining]
    total = sum(product for _, product in products)
    if total <= 0:
        products, total = list(diagnosis.remaining), sum(p for _, p in diagnosis.remaining)
    return tuple(sorted(((cause, product / total) for cause, product in products if product > 0), key=lambda p: (-p[1], p[0])))


@dataclass(frozen=True, slots=True)
class PredictedAnswer:
    """One answer: its probability, and the causes that then lead among what is still wrong, as (cause, probability)."""

    answer: str
    probability: float
    leading: tuple[tuple[str, float], ...]


def predicted_answers(
    model: BeliefModel, diagnosis: Diagnosis, finding: str, count: int = 2, *, again: bool = False
) -> list[PredictedAnswer]:
    """The prospects of each answer, the likeliest first; `again`: at a second look."""
    table = model.predict_from_current_faults(finding, diagnosis.evidence, again=again)
    result = []
    for k, answer in enumerate(model.knowledge.findings[finding].answer_ids):
        joint = diagnosis.current * table[:, k]
        total = float(joint.sum())
        marginals = model.hypotheses.marginals(joint / total)
        order = sorted(range(len(marginals)), key=lambda c: (-marginals[c], model.hypotheses.causes[c]))[:count]
        result.append(PredictedAnswer(answer, total, tuple((model.hypotheses.causes[c], float(marginals[c])) for c in order)))
    return sorted(result, key=lambda p: -p.probability)
