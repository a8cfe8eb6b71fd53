"""The next step: a question, a fix or the shop, whichever makes the expected cost of getting it running least."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from nopost.diagnosis.advice.available_steps import AvailableSteps
from nopost.diagnosis.advice.lookahead import Lookahead, lookahead
from nopost.diagnosis.advice.repair import RepairPlan
from nopost.diagnosis.advice.value_of_information import (
    Branches,
    Question,
    RepairProblem,
    cost_of_repair_first,
    value_of_information,
)
from nopost.diagnosis.belief.evidence import Evidence
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.effort import Person, action_effort, cost, finding_effort
from nopost.knowledge.model import Action, Finding

REPAIR_FIRST_MARGIN = 0.02
"""A fix comes before a question that is itself worth this share only when it is better by this share. Looking one question
ahead undervalues asking, for more questions can follow; and a look is easier on a person than work (judgement)."""

LIKELY = 0.4
"""A fix that likely to help need not wait for another look (judgement)."""


class StepKind(StrEnum):
    """What kind of step it is."""

    ASK = "ask"
    DO = "do"
    SHOP = "shop"


@dataclass(frozen=True, slots=True)
class Step:
    """A step: kind and id, what it costs itself, the expected total cost from here when it is taken, and for a fix the chance
    that the machine starts after it. `rule`: the rule that puts it first, whatever it is worth."""

    kind: StepKind
    id: str
    cost: float
    total: float
    chance: float = 0.0
    opening: bool = False
    rule: str = ""


@dataclass(frozen=True, slots=True)
class Advice:
    """The next step, other good ones, and the fixes in order if nothing more were asked (fix, chance that
    it is needed), with their expected cost `now`. `left_out`: probability of what was not looked at."""

    step: Step
    others: tuple[Step, ...]
    plan: tuple[tuple[str, float], ...]
    now: float
    left_out: float = 0.0


class Adviser:
    """Chooses steps for one belief model."""

    def __init__(self, model: BeliefModel) -> None:
        self.model = model
        self.knowledge = model.knowledge
        self._fixes = [a.id for a in self.knowledge.actions.values() if a.kind == "fix"]
        self._fix_index = {name: k for k, name in enumerate(self._fixes)}
        self._chances = model.chances(self._fixes)

    def advise(self, offers: AvailableSteps, evidence: Evidence, posterior: Floats, person: Person) -> Advice:
        """The next step for what is on offer."""
        fixes, questions = offers.fixes(), [q for q in offers.questions() if self._worth_a_look(q)]
        looked_at = lookahead(self.model, self.model.now(posterior, evidence))
        fixes = self._helpful(fixes, looked_at)
        problem = self._problem(fixes, looked_at, person)
        plan = problem.plan()
        asked = self._asked(questions, looked_at, evidence, person)
        steps = self._steps(problem, plan, fixes, asked)
        first = self._put_first(offers, person, plan, problem, fixes) or steps[0]
        others = tuple(s for s in steps if s.id != first.id)[:5]
        needed = tuple((fixes[k].id, share) for k, share in zip(plan.fixes, plan.needed, strict=True))
        return Advice(first, others, needed, plan.cost, looked_at.left_out)

    def total(
        self, step: tuple[StepKind, str], offers: AvailableSteps, evidence: Evidence, posterior: Floats, person: Person
    ) -> float:
        """Expected total cost when this step comes next, then what is best. What is not on offer costs its effort for nothing."""
        kind, name = step
        fixes, questions = offers.fixes(), [q for q in offers.questions() if self._worth_a_look(q)]
        looked_at = lookahead(self.model, self.model.now(posterior, evidence))
        problem = self._problem(fixes, looked_at, person)
        if kind is StepKind.SHOP:
            return problem.shop
        asked = self._asked(questions, looked_at, evidence, person)
        if kind is StepKind.ASK:
            chosen = [q for q in asked if q.name == name]
            return value_of_information(problem, chosen)[0].total if chosen else self.own_cost(step, person) + problem.plan().cost
        place = [k for k, fix in enumerate(fixes) if fix.id == name]
        return cost_of_repair_first(problem, place[0], asked) if place else self.own_cost(step, person) + problem.plan().cost

    def own_cost(self, step: tuple[StepKind, str], person: Person) -> float:
        """What the step itself costs."""
        kind, name = step
        if kind is StepKind.ASK:
            return cost(self.knowledge, finding_effort(self.knowledge, self.knowledge.findings[name], person), person)
        return cost(self.knowledge, action_effort(self.knowledge, self.knowledge.actions[name], person), person)

    def _worth_a_look(self, finding: Finding) -> bool:
        return finding.id in self.model.bearing

    def _helpful(self, fixes: list[Action], looked_at: Lookahead) -> list[Action]:
        """Fixes that can mend something of what is looked at."""
        causes = looked_at.rows[looked_at.rows < len(self._chances)]
        helps = self._chances[causes].max(axis=0, initial=0.0) > 0
        return [fix for fix in fixes if helps[self._fix_index[fix.id]]]

    def _problem(self, fixes: list[Action], looked_at: Lookahead, person: Person) -> RepairProblem:
        """The repair problem over what may be wrong now, as far as it matters."""
        columns = [self._fix_index[a.id] for a in fixes]
        chance = np.vstack([self._chances[:, columns], np.zeros((1, len(columns)))])[looked_at.rows]
        costs = np.array([cost(self.knowledge, action_effort(self.knowledge, a, person), person) for a in fixes])
        shop = cost(self.knowledge, self.knowledge.base.shop.effort, person)
        return RepairProblem(looked_at.belief, looked_at.shares, chance, costs, shop)

    def _asked(self, findings: list[Finding], looked_at: Lookahead, evidence: Evidence, person: Person) -> list[Question]:
        costs = [cost(self.knowledge, finding_effort(self.knowledge, f, person), person) for f in findings]
        names = [f.id for f in findings]
        return [Question(*each) for each in zip(names, costs, looked_at.tables(names, evidence), strict=True)]

    def _steps(self, problem: RepairProblem, plan: RepairPlan, fixes: list[Action], asked: list[Question]) -> list[Step]:
        """All steps worth naming, the least expected total first; a question only when it beats acting at once."""
        costs = {q.name: q.cost for q in asked}
        branches = Branches.of(problem, asked)
        asks = [Step(StepKind.ASK, v.name, costs[v.name], v.total) for v in branches.values() if v.total < plan.cost]
        chances = problem.chances()
        first = self._first_fix(plan, branches, asks, chances)
        steps = []
        for place, k in enumerate(plan.fixes):
            total = plan.cost + place * 1e-6 if place else first
            steps.append(Step(StepKind.DO, fixes[k].id, float(problem.cost[k]), total, chances[k]))
        steps.append(Step(StepKind.SHOP, "shop", problem.shop, problem.shop if plan.fixes else plan.cost))
        return sorted([*asks, *steps], key=lambda step: step.total)

    def _first_fix(self, plan: RepairPlan, branches: Branches, asks: list[Step], chances: list[float]) -> float:
        """Expected total cost when the best fix comes before any question."""
        if not plan.fixes or not asks:
            return plan.cost
        waiting = min(plan.cost, branches.waiting(plan.fixes[0]))
        least = min(step.total for step in asks)
        telling = least < plan.cost * (1 - REPAIR_FIRST_MARGIN)
        haste = REPAIR_FIRST_MARGIN if chances[plan.fixes[0]] < LIKELY and telling else 0.0
        return waiting if waiting < least * (1 - haste) else max(waiting, least)

    def _put_first(
        self, offers: AvailableSteps, person: Person, plan: RepairPlan, problem: RepairProblem, fixes: list[Action]
    ) -> Step | None:
        """What comes before all others: opening questions that need no power, what rules want done first, the other opening
        questions, what rules want asked first, what is stale."""
        opening, rules = self.knowledge.base.opening, offers.outcome.first
        harmless = [name for name in opening if not self.knowledge.findings[name].powered]
        return (
            self._asked_first(harmless, offers, person, plan)
            or self._done_first(offers, person, plan, problem, fixes)
            or self._asked_first((*opening, *rules, *sorted(offers.seen.stale)), offers, person, plan)
        )

    def _asked_first(self, names: Iterable[str], offers: AvailableSteps, person: Person, plan: RepairPlan) -> Step | None:
        askable = {f.id for f in offers.questions()}
        for name in names:
            if name in askable:
                opening, rule = name in self.knowledge.base.opening, offers.outcome.first.get(name, "")
                own = self.own_cost((StepKind.ASK, name), person)
                return Step(StepKind.ASK, name, own, plan.cost, opening=opening, rule="" if opening else rule)
        return None

    def _done_first(
        self, offers: AvailableSteps, person: Person, plan: RepairPlan, problem: RepairProblem, fixes: list[Action]
    ) -> Step | None:
        doable = {a.id for a in offers.fixes()}
        for name, rule in offers.outcome.do_first.items():
            if name in doable:
                chances = dict(zip((fix.id for fix in fixes), problem.chances(), strict=True))
                own = self.own_cost((StepKind.DO, name), person)
                return Step(StepKind.DO, name, own, plan.cost, chances.get(name, 0.0), rule=rule)
        return None
