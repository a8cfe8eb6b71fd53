"""Expected weight of evidence of findings for causes, in decibans (10 log10 of the factor on the odds).

For a cause against all other machines that do not start, it is what the answer brings for the cause on average when it is
that cause. It is never negative.

For causes i and j the answer to a question gives the weight of evidence 10 log10(P(answer|i) / P(answer|j)). Expected under i
it is the Kullback-Leibler divergence of i from j in decibans (Good, "Probability and the Weighing of Evidence", 1950;
Kullback & Leibler 1951). The mean of both directions is taken (half of their symmetric J), so that it does not matter which
of the two it is. For the checks it is taken times the chance that the question comes up at all under the cause: its `when`,
and that of its test. Misreports are in P.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nopost.diagnosis.belief.hypotheses import Floats, Ints
from nopost.diagnosis.belief.posterior import DECIBAN, BeliefModel
from nopost.knowledge.model import Conditions, Finding, Knowledge

LEAST_DECIBANS = 0.05
"""A link weaker than this many decibans says nothing (judgement: it would show as 0.0)."""

LEAST_PROBABILITY = 1e-6
"""Stands for a probability of 0, whose weight of evidence would have no end (judgement)."""


@dataclass(frozen=True, slots=True)
class WeightedLink:
    """A cause, a finding that it names, and the strength in decibans."""

    cause: str
    finding: str
    decibans: float


@dataclass(frozen=True, slots=True)
class Discriminator:
    """What tells a cause from another: the finding, its expected decibans, and the answer that differs most with its probability
    under each."""

    other: str
    finding: str
    decibans: float
    answer: str
    here: float
    there: float


class ExpectedWeightModel:
    """Strengths of one knowledge base."""

    def __init__(self, model: BeliefModel) -> None:
        self.model = model
        self._prior = np.exp(model.h.log_prior)
        self._asked = [f.id for f in model.knowledge.findings.values() if f.question and f.id in model.bearing]

    def links(self, cause: str, most: int = 0) -> list[WeightedLink]:
        """The links of a cause to the findings that it names, the strongest first; at most `most` of them (0: all)."""
        named = self.model.knowledge.causes[cause].shows
        links = [WeightedLink(cause, finding, self.decibans(cause, finding)) for finding in named]
        kept = sorted((x for x in links if x.decibans >= LEAST_DECIBANS), key=lambda x: (-x.decibans, x.finding))
        return kept[:most] if most else kept

    def decibans(self, cause: str, finding: str) -> float:
        """Expected weight of evidence of a finding for a cause when it is there."""
        inside = self.model.h.has(self.model.index[cause])
        table = self.model.tables[finding]
        return _expected_weight(self._mean(inside, table), self._mean(~inside, table))

    def shown(self, cause: str, finding: str) -> tuple[Floats, Floats]:
        """(answers,) each: what is reported with this cause alone, and when nothing touches the finding."""
        table = self.model.alone(finding)[self.model.index[cause]]
        item = self.model.knowledge.findings[self.model.channels[finding].target]
        usual = np.array([item.baseline.get(a, 0.0) for a in item.answer_ids])
        return table, np.asarray(usual / usual.sum() @ self.model.channels[finding].matrix)

    def nearest(self, cause: str, count: int) -> list[str]:
        """The causes that are hardest to tell from it: least expected decibans over all findings together."""
        apart = self._together[self.model.index[cause]]
        others = [c for c in self.model.h.causes if c != cause]
        return sorted(others, key=lambda other: (float(apart[self.model.index[other]]), other))[:count]

    def parting(self, cause: str, other: str) -> Discriminator | None:
        """The question that tells them apart best; None when no question does."""
        one, two = self.model.index[cause], self.model.index[other]
        best = max(self._asked, key=lambda finding: self._apart[finding][one, two], default="")
        if not best or self._apart[best][one, two] < LEAST_DECIBANS:
            return None
        here, there = self.model.alone(best)[[one, two]]
        k = int(np.argmax(here - there))
        answer = self.model.knowledge.findings[best].answers[k].text
        return Discriminator(other, best, float(self._apart[best][one, two]), answer, float(here[k]), float(there[k]))

    @cached_property
    def _apart(self) -> dict[str, Floats]:
        """Question -> (C, C) expected decibans between each two causes."""
        return {finding: self._between(self.model.alone(finding)) for finding in self._asked}

    @cached_property
    def _together(self) -> Floats:
        """(C, C) of all true findings, so that instruments of one thing are not counted twice."""
        true = (self.model.shown(name).alone() for name in self.model.true)
        return np.asarray(sum(map(self._between, true), start=np.zeros((len(self.model.h.causes),) * 2)))

    def _between(self, alone: Floats) -> Floats:
        """(C, C) mean of both directions, so that it does not matter which of the two it is; of (C, answers)."""
        single = np.maximum(alone, LEAST_PROBABILITY)
        logs = 10 * np.log10(single)
        one_way = np.maximum((single * logs).sum(axis=1)[:, None] - single @ logs.T, 0.0)
        return np.asarray((one_way + one_way.T) / 2)

    def _mean(self, inside: NDArray[np.bool_], table: Floats) -> Floats:
        weights = np.where(inside, self._prior, 0.0)
        return np.asarray(weights @ table / max(weights.sum(), 1e-300))


def _expected_weight(real: Floats, rival: Floats) -> float:
    """Sum of p 10 log10(p / q) in decibans; an answer that the rival never shows counts as NEVER there."""
    p, q = np.maximum(real, 0.0), np.maximum(rival, LEAST_PROBABILITY)
    seen = p > 0
    return max(float((p[seen] * 10 * np.log10(p[seen] / q[seen])).sum()), 0.0)


def causes_per_thousand(knowledge: Knowledge) -> dict[str, float]:
    """Cause -> how many of a thousand machines that do not start have it, among single listed causes."""
    total = sum(cause.weight for cause in knowledge.causes.values())
    return {name: 1000 * cause.weight / total for name, cause in knowledge.causes.items()}


def strongest_links(strength: ExpectedWeightModel, causes: Iterable[str], most: int) -> list[WeightedLink]:
    """The `most` strongest links of each of these causes."""
    return [link for cause in causes for link in strength.links(cause, most)]


@dataclass(frozen=True)
class ExpectedWeights:
    """Expected decibans between each two causes, (C, C): `best` single look and which it is, and all looks `together`."""

    index: dict[str, int]
    looks: tuple[str, ...]
    best: Floats
    which: Ints
    together: Floats

    def nearest(self, one: str, other: str) -> str:
        """The finding that tells most; empty when none tells anything."""
        place = self.index[one], self.index[other]
        return self.looks[self.which[place]] if self.best[place] > 0 else ""


def expected_weights(belief: BeliefModel, asked: Collection[str]) -> ExpectedWeights:
    """The looks of a knowledge base: every finding that can be asked, instruments among them.

    Of several looks at one thing only the best counts towards all together.
    """
    names = tuple(sorted(name for name in asked if name in belief.bearing))
    count = len(belief.index)
    best, which = np.zeros((count, count)), np.zeros((count, count), dtype=np.intp)
    at: dict[str, Floats] = {}
    for place, name in enumerate(names):
        look = _weight_between_causes(belief, belief.knowledge.findings[name])
        which = np.where(look > best, place, which)
        best = np.maximum(look, best)
        target = belief.channels[name].target
        at[target] = np.maximum(at[target], look) if target in at else look
    return ExpectedWeights(dict(belief.index), names, best, which, sum(at.values(), np.zeros((count, count))))


def _weight_between_causes(belief: BeliefModel, finding: Finding) -> Floats:
    """(C, C) mean of both directions of the expected weight of evidence, in decibans."""
    table = np.maximum(belief.alone(finding.id), 1e-12)
    logs = np.log(table)
    one_way = (table * logs).sum(axis=1)[:, None] - table @ logs.T
    comes_up = _chance_asked(belief, finding.when)
    if finding.action:
        comes_up = comes_up * _chance_asked(belief, belief.knowledge.actions[finding.action].when)
    weighted = np.maximum(one_way, 0.0) * comes_up[:, None]
    return np.asarray((weighted + weighted.T) / 2 / DECIBAN)


def _chance_asked(belief: BeliefModel, when: Conditions) -> Floats:
    """(C,) chance that conditions hold under each cause, taken apart; what records say is taken as given."""
    chance = np.ones(len(belief.index))
    for wanted, conditions in ((True, when.all), (False, when.none)):
        for condition in conditions:
            if condition.of_fact:
                continue
            known = belief.answer_index[condition.name]
            columns = [known[value] for value in condition.values if value in known]
            holds = belief.alone(condition.name)[:, columns].sum(axis=1)
            chance = chance * (holds if wanted else 1 - holds)
    return np.asarray(chance)
