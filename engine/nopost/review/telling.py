"""How well two causes can be told apart: the expected weight of evidence of each look, in decibans.

For causes i and j the answer to a question gives the weight of evidence 10 log10(P(answer|i) / P(answer|j)). Expected under i
it is the Kullback-Leibler divergence of i from j in decibans (Good, "Probability and the Weighing of Evidence", 1950;
Kullback & Leibler 1951). The mean of both directions is taken (half of their symmetric J), times the chance that the
question comes up at all under the cause: its `when`, and that of its test. Misreports are in P.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from nopost.belief.hypotheses import Floats, Ints
from nopost.belief.model import DECIBAN, BeliefModel
from nopost.knowledge.model import Conditions, Finding


@dataclass(frozen=True)
class Telling:
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


def telling_of(belief: BeliefModel, asked: Collection[str]) -> Telling:
    """The looks of a knowledge base: every finding that can be asked, instruments among them.

    Of several looks at one thing only the best counts towards all together.
    """
    names = tuple(sorted(name for name in asked if name in belief.bearing))
    count = len(belief.index)
    best, which = np.zeros((count, count)), np.zeros((count, count), dtype=np.intp)
    at: dict[str, Floats] = {}
    for place, name in enumerate(names):
        look = _look(belief, belief.knowledge.findings[name])
        which = np.where(look > best, place, which)
        best = np.maximum(look, best)
        target = belief.channels[name].target
        at[target] = np.maximum(at[target], look) if target in at else look
    return Telling(dict(belief.index), names, best, which, sum(at.values(), np.zeros((count, count))))


def _look(belief: BeliefModel, finding: Finding) -> Floats:
    """(C, C) mean of both directions of the expected weight of evidence, in decibans."""
    table = np.maximum(belief.alone(finding.id), 1e-12)
    logs = np.log(table)
    one_way = (table * logs).sum(axis=1)[:, None] - table @ logs.T
    comes_up = _chance(belief, finding.when)
    if finding.action:
        comes_up = comes_up * _chance(belief, belief.knowledge.actions[finding.action].when)
    weighted = np.maximum(one_way, 0.0) * comes_up[:, None]
    return np.asarray((weighted + weighted.T) / 2 / DECIBAN)


def _chance(belief: BeliefModel, when: Conditions) -> Floats:
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
