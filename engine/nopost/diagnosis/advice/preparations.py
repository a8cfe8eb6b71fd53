"""Preparations: what has to be done to the machine before a step can be taken there, and what of it stays.

A preparation (side panel off, card out, board out) is a cost cluster: it is paid once and then serves all steps that take place
there. One that *stays* is still there when the machine is tried; any other is undone before that and has to be paid again
(clusters with and without inside information: Langseth & Jensen 2001, Ottosen & Jensen 2010). The cost of a preparation holds
undoing it, so an end costs nothing more.

Arguments throughout: P preparations; `place`: (P,) or (N, P) 1.0 where a step needs the preparation; `ready`: (P,) or (N, P) 1.0
where it is made now.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.belief.hypotheses import Flags, Floats
from nopost.diagnosis.history import Person, effort_cost
from nopost.knowledge.model import Knowledge


@dataclass(frozen=True)
class Preparations:
    """`costs`: (P,) what each preparation costs in money; `stays`: (P,) whether it stays while the machine is tried."""

    costs: Floats
    stays: Flags

    @classmethod
    def none(cls) -> Preparations:
        """Steps that can all be taken at once."""
        return cls(np.zeros(0), np.zeros(0, dtype=bool))

    def missing_cost(self, place: Floats, ready: Floats) -> Floats:
        """Cost of what a place needs and what is not ready: (…) for (…, P) places."""
        return np.asarray((place * (1 - ready)) @ self.costs)

    def once_tried(self, ready: Floats) -> Floats:
        """What is left of what was ready when the machine has been tried."""
        return np.asarray(ready * self.stays)

    def before_look(self, place: Floats, ready: Floats, powered: Floats | bool) -> Floats:
        """What is still ready when a look begins: with power on, what does not stay is undone unless the look needs it."""
        return np.asarray(np.where(powered, ready * np.maximum(self.stays, place), ready))

    def after_look(self, place: Floats, ready: Floats, powered: Floats | bool) -> Floats:
        """What is ready after a look at a place."""
        return np.maximum(self.before_look(place, ready, powered), place)


class Workplace:
    """The preparations of a knowledge base, by name, for one person's costs."""

    def __init__(self, knowledge: Knowledge, person: Person) -> None:
        self._base = knowledge.base
        self._index = {name: k for k, name in enumerate(knowledge.base.preparations)}
        each = knowledge.base.preparations.values()
        costs = [effort_cost(knowledge, preparation.effort, person) for preparation in each]
        stays = [preparation.stays for preparation in each]
        self.preparations = Preparations(np.array(costs, dtype=float), np.array(stays, dtype=bool))

    def place(self, at: Iterable[str]) -> Floats:
        """(P,) 1.0 for each preparation named, and for what these need before."""
        place = np.zeros(len(self._index))
        place[[self._index[name] for name in self._base.closure(at)]] = 1.0
        return place

    def places(self, each: Sequence[Iterable[str]]) -> Floats:
        """(N, P) the places of N steps."""
        return np.array([self.place(at) for at in each]).reshape(len(each), len(self._index))
