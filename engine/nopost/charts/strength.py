"""How strongly causes and findings bear on each other, in decibans (10 log10 of the factor on the odds; Good 1950).

A link's strength is the expected weight of evidence: the decibans that the answer brings for the cause on average when it is that
cause, against all other machines that do not start. It is never negative.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nopost.belief.hypotheses import Floats
from nopost.belief.model import BeliefModel
from nopost.knowledge.model import Knowledge

LEAST = 0.05
"""A link weaker than this many decibans says nothing (judgement: it would show as 0.0)."""

NEVER = 1e-6
"""Stands for a probability of 0, whose weight of evidence would have no end (judgement)."""


@dataclass(frozen=True, slots=True)
class Link:
    """A cause, a finding that it names, and the strength in decibans."""

    cause: str
    finding: str
    decibans: float


@dataclass(frozen=True, slots=True)
class Parting:
    """What tells a cause from another: the finding, its expected decibans, and the answer that differs most with its probability
    under each."""

    other: str
    finding: str
    decibans: float
    answer: str
    here: float
    there: float


class Strength:
    """Strengths of one knowledge base."""

    def __init__(self, model: BeliefModel) -> None:
        self.model = model
        self._prior = np.exp(model.h.log_prior)
        self._asked = [f.id for f in model.knowledge.findings.values() if f.question and f.id in model.bearing]

    def links(self, cause: str, most: int = 0) -> list[Link]:
        """The links of a cause to the findings that it names, the strongest first; at most `most` of them (0: all)."""
        named = self.model.knowledge.causes[cause].shows
        links = [Link(cause, finding, self.decibans(cause, finding)) for finding in named]
        kept = sorted((x for x in links if x.decibans >= LEAST), key=lambda x: (-x.decibans, x.finding))
        return kept[:most] if most else kept

    def decibans(self, cause: str, finding: str) -> float:
        """Expected weight of evidence of a finding for a cause when it is there."""
        inside = self.model.h.has(self.model.index[cause])
        table = self.model.tables[finding]
        return _expected(self._mean(inside, table), self._mean(~inside, table))

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

    def parting(self, cause: str, other: str) -> Parting | None:
        """The question that tells them apart best; None when no question does."""
        one, two = self.model.index[cause], self.model.index[other]
        best = max(self._asked, key=lambda finding: self._apart[finding][one, two], default="")
        if not best or self._apart[best][one, two] < LEAST:
            return None
        here, there = self.model.alone(best)[[one, two]]
        k = int(np.argmax(here - there))
        answer = self.model.knowledge.findings[best].answers[k].text
        return Parting(other, best, float(self._apart[best][one, two]), answer, float(here[k]), float(there[k]))

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
        single = np.maximum(alone, NEVER)
        logs = 10 * np.log10(single)
        one_way = np.maximum((single * logs).sum(axis=1)[:, None] - single @ logs.T, 0.0)
        return np.asarray((one_way + one_way.T) / 2)

    def _mean(self, inside: NDArray[np.bool_], table: Floats) -> Floats:
        weights = np.where(inside, self._prior, 0.0)
        return np.asarray(weights @ table / max(weights.sum(), 1e-300))


def _expected(real: Floats, rival: Floats) -> float:
    """Sum of p 10 log10(p / q) in decibans; an answer that the rival never shows counts as NEVER there."""
    p, q = np.maximum(real, 0.0), np.maximum(rival, NEVER)
    seen = p > 0
    return max(float((p[seen] * 10 * np.log10(p[seen] / q[seen])).sum()), 0.0)


def frequencies(knowledge: Knowledge) -> dict[str, float]:
    """Cause -> how many of a thousand machines that do not start have it, among single listed causes."""
    total = sum(cause.weight for cause in knowledge.causes.values())
    return {name: 1000 * cause.weight / total for name, cause in knowledge.causes.items()}


def strongest(strength: Strength, causes: Iterable[str], most: int) -> list[Link]:
    """The `most` strongest links of each of these causes."""
    return [link for cause in causes for link in strength.links(cause, most)]
