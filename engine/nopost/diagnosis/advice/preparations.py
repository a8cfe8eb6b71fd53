"""Preparations: what has to be done to the machine before a step can be taken there, and what of it stays.

A preparation (side panel off, card out, board out) is a cost cluster: it is paid once and then serves all steps that take place
there. One that *stays* is still there when the machine is tried; any other is undone before that and has to be paid again
(clusters with and without inside information: Langseth & Jensen 2001, Ottosen & Jensen 2010). The cost of a preparation holds
undoing it, so an end costs nothing more.

Arguments throughout: P preparations; `place`: (P,) or (N, P) 1.0 where a step needs the preparation; `ready`: (P,) or (N, P) 1.0
where it is made now.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.belief.hypotheses import Flags, Floats
from nopost.diagnosis.history import (
    Person,
    action_effort,
    effort_cost,
    finding_effort,
    finding_place,
    minute_rate,
    second_look_effort,
)
from nopost.knowledge.model import Effort, Knowledge


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
    """What the steps of a knowledge base cost one person, and the preparations that they need.

    `fix_costs`, `look_costs`: id -> money for the step itself, with the tools that are not at hand; `second_look_costs`: for
    looking again; `fix_places`, `look_places`: id -> (P,) preparations. `labour`: of the last resort; `trial`, `exchange`: see
    `RepairCosts`.
    """

    def __init__(self, knowledge: Knowledge, person: Person) -> None:
        self._base, actions, findings = knowledge.base, knowledge.actions.values(), knowledge.findings.values()

        def money(effort: Effort) -> float:
            return effort_cost(knowledge, effort, person)

        each = knowledge.base.preparations
        self._index = {name: k for k, name in enumerate(each)}
        stays = np.array([preparation.stays for preparation in each.values()], dtype=bool)
        self.preparations = Preparations(np.array([money(p.effort) for p in each.values()], dtype=float), stays)
        fixes = [action for action in actions if action.kind == "fix"]
        self.fix_costs = {a.id: money(action_effort(knowledge, a, person)) for a in fixes}
        self.fix_places = {a.id: self.place(a.at) for a in fixes}
        self.look_costs = {f.id: money(finding_effort(knowledge, f, person)) for f in findings}
        self.look_places = {f.id: self.place(finding_place(knowledge, f)) for f in findings}
        self.second_look_costs = {f.id: money(second_look_effort(f)) for f in findings}
        rate = minute_rate(knowledge, person)
        self.labour = money(knowledge.base.shop.effort)
        self.trial, self.exchange = knowledge.base.trial.cost(rate), knowledge.base.exchange.cost(rate)

    def place(self, at: Iterable[str]) -> Floats:
        """(P,) 1.0 for each preparation named, and for what these need before."""
        place = np.zeros(len(self._index))
        place[[self._index[name] for name in self._base.closure(at)]] = 1.0
        return place
