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
from dataclasses import dataclass, replace
from typing import Self

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


@dataclass(frozen=True)
class RepairCosts:
    """What A fixes cost over K faults and P preparations, in money.

    `fixes`: (A,) each by itself, above 0; `last_resort`: (K,) the last resort by what the fault turns out to be; `places`: (A, P)
    1.0 where a fix needs a preparation; `trial`: trying the machine after one or several fixes; `exchange`: reading one screen of
    questions and answering it; `postponable`: (A,) whether the trial after a fix may wait for another fix.
    """

    fixes: Floats
    last_resort: Floats
    places: Floats
    preparations: Preparations
    trial: float = 0.0
    exchange: float = 0.0
    postponable: Flags | None = None

    @classmethod
    def plain(cls, fixes: Floats, last_resort: float, faults: int) -> Self:
        """Costs without preparations; each fix holds its trial, and the last resort costs the same whatever it is."""
        return cls(fixes, np.full(faults, last_resort), np.zeros((len(fixes), 0)), Preparations.none())

    def without(self, block: Sequence[int]) -> RepairCosts:
        """The costs of the other fixes."""
        postponable = None if self.postponable is None else np.delete(self.postponable, block)
        places = np.delete(self.places, block, axis=0)
        return replace(self, fixes=np.delete(self.fixes, block), places=places, postponable=postponable)

    def of_block(self, block: Sequence[int], ready: Floats) -> float:
        """Cost of doing these fixes next and trying the machine once, from (P,) what is ready."""
        own = self.fixes[list(block)].sum() + self.trial
        return float(own + self.preparations.missing_cost(self.place_of(block), ready))

    def place_of(self, block: Sequence[int]) -> Floats:
        """(P,) preparations that any of these fixes needs."""
        return np.asarray(self.places[list(block)].max(axis=0, initial=0.0))


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
