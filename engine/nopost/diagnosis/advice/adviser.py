"""The next step: what has to come first, else the question, fix or last resort with the least expected total cost."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from nopost.diagnosis.advice.available_steps import AvailableSteps
from nopost.diagnosis.advice.lookahead import Lookahead, lookahead
from nopost.diagnosis.advice.repair import RepairPlan
from nopost.diagnosis.advice.value_of_information import (
    AnswerBranches,
    Question,
    RepairProblem,
    cost_of_repair_first,
    value_of_information,
)
from nopost.diagnosis.belief.evidence import Evidence
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.history import Person, action_effort, effort_cost, finding_effort
from nopost.knowledge.model import Action

REPAIR_FIRST_MARGIN = 0.02
"""A fix comes before a question that is itself worth this share only when it is better by this share. Looking one question
ahead undervalues asking, for more questions can follow; and a look is easier on a person than work (judgement)."""

LIKELY = 0.4
"""A fix with at least this probability of success need not be better by the margin (judgement)."""

MOST_OTHERS = 5
"""Steps named beside the next one at most."""

RANK_STEP = 1e-6
"""Keeps later fixes of a plan in its order when steps are sorted by expected total cost."""


class StepKind(StrEnum):
    """What kind of step it is. The last resort is handing the machine over to a repair shop."""

    ASK = "ask"
    DO = "do"
    LAST_RESORT = "shop"


@dataclass(frozen=True, slots=True)
class Step:
    """A step that can come next.

    `id`: of the finding to ask about or of the action to do, "shop" for the last resort. `cost`: of the step itself, in money.
    `expected_total_cost`: from now to the end when this step comes next, in money. `success_probability`: for a fix, that the
    machine starts after it. `opening`: whether it is one of the opening questions of the knowledge base. `rule`: id of the rule
    that puts it first whatever it is worth, "" when none does.
    """

    kind: StepKind
    id: str
    cost: float
    expected_total_cost: float
    success_probability: float = 0.0
    opening: bool = False
    rule: str = ""


@dataclass(frozen=True, slots=True)
class Advice:
    """The next step and what it was chosen from.

    `others`: other good steps, the best first. `plan`: the fixes in order if nothing more were asked, each with the probability
    that it is needed. `expected_cost_of_repair_now`: of this plan, in money. `truncated_mass`: probability of the faults that
    were not considered.
    """

    step: Step
    others: tuple[Step, ...]
    plan: tuple[tuple[str, float], ...]
    expected_cost_of_repair_now: float
    truncated_mass: float = 0.0


@dataclass(frozen=True)
class _Repairs:
    """The fixes of a repair problem, in the order of its columns, and its best plan."""

    problem: RepairProblem
    fixes: list[Action]
    plan: RepairPlan


class Adviser:
    """Chooses the next step for one belief model."""

    def __init__(self, model: BeliefModel) -> None:
        self.model = model
        self.knowledge = model.knowledge
        fixes = [a.id for a in self.knowledge.actions.values() if a.kind == "fix"]
        self._fix_index = {name: k for k, name in enumerate(fixes)}
        self._repair_probabilities = model.repair_probabilities(fixes)

    def advise(self, available: AvailableSteps, evidence: Evidence, posterior: Floats, person: Person) -> Advice:
        """The next step among the available ones.

        Args:
            available: the questions and fixes to choose from.
            evidence: all evidence.
            posterior: (H,) the model's posterior for this evidence.
            person: whose costs count.
        """
        cases = lookahead(self.model, self.model.current_posterior(posterior, evidence))
        repairs = self._repairs(self._helpful_fixes(available.fixes(), cases), cases, person)
        questions = self._questions(available, cases, evidence, person)
        steps = self._ranked_steps(repairs, questions)
        first = self._mandatory_step(available, repairs, person) or steps[0]
        others = tuple(s for s in steps if s.id != first.id)[:MOST_OTHERS]
        plan = repairs.plan
        needed = tuple((repairs.fixes[k].id, share) for k, share in zip(plan.fixes, plan.need_probabilities, strict=True))
        return Advice(first, others, needed, plan.expected_cost_of_repair, cases.truncated_mass)

    def expected_total_cost(
        self, step: tuple[StepKind, str], available: AvailableSteps, evidence: Evidence, posterior: Floats, person: Person
    ) -> float:
        """Expected total cost in money when this step (kind, id) comes next and then what is best.

        A step that is not available costs its effort and changes nothing. Other arguments as for `advise`.
        """
        kind, name = step
        cases = lookahead(self.model, self.model.current_posterior(posterior, evidence))
        repairs = self._repairs(available.fixes(), cases, person)
        if kind is StepKind.LAST_RESORT:
            return repairs.problem.last_resort_cost
        questions = self._questions(available, cases, evidence, person)
        if kind is StepKind.ASK:
            chosen = [q for q in questions if q.name == name]
            if chosen:
                return value_of_information(repairs.problem, chosen)[0].expected_total_cost
        else:
            place = [k for k, fix in enumerate(repairs.fixes) if fix.id == name]
            if place:
                return cost_of_repair_first(repairs.problem, place[0], questions)
        return self.own_cost(step, person) + repairs.plan.expected_cost_of_repair

    def own_cost(self, step: tuple[StepKind, str], person: Person) -> float:
        """What the step itself costs, in money."""
        kind, name = step
        if kind is StepKind.ASK:
            return effort_cost(self.knowledge, finding_effort(self.knowledge, self.knowledge.findings[name], person), person)
        return self._action_cost(self.knowledge.actions[name], person)

    def _action_cost(self, action: Action, person: Person) -> float:
        return effort_cost(self.knowledge, action_effort(self.knowledge, action, person), person)

    def _helpful_fixes(self, fixes: list[Action], cases: Lookahead) -> list[Action]:
        """Fixes that can remove one of the faults considered."""
        causes = cases.faults[cases.faults < len(self._repair_probabilities)]
        helps = self._repair_probabilities[causes].max(axis=0, initial=0.0) > 0
        return [fix for fix in fixes if helps[self._fix_index[fix.id]]]

    def _repairs(self, fixes: list[Action], cases: Lookahead, person: Person) -> _Repairs:
        """The repair problem of these fixes over the faults considered; no fix removes an unlisted cause."""
        columns = [self._fix_index[a.id] for a in fixes]
        of_listed = self._repair_probabilities[:, columns]
        repair_probability = np.vstack([of_listed, np.zeros((1, len(columns)))])[cases.faults]
        costs = np.array([self._action_cost(a, person) for a in fixes])
        last_resort_cost = effort_cost(self.knowledge, self.knowledge.base.shop.effort, person)
        problem = RepairProblem(cases.belief, cases.fault_shares, repair_probability, costs, last_resort_cost)
        return _Repairs(problem, fixes, problem.best_plan())

    def _questions(self, available: AvailableSteps, cases: Lookahead, evidence: Evidence, person: Person) -> list[Question]:
        """The available questions whose answers are informative."""
        names = [f.id for f in available.questions() if f.id in self.model.informative_findings]
        costs = [self.own_cost((StepKind.ASK, name), person) for name in names]
        return [Question(*each) for each in zip(names, costs, cases.predictive_tables(names, evidence), strict=True)]

    def _ranked_steps(self, repairs: _Repairs, questions: list[Question]) -> list[Step]:
        """Questions that beat repair at once, the fixes of the plan and the last resort, least expected total cost first."""
        problem, plan = repairs.problem, repairs.plan
        repair_now = plan.expected_cost_of_repair
        costs = {q.name: q.cost for q in questions}
        branches = AnswerBranches.of(problem, questions)
        asks = [
            Step(StepKind.ASK, value.name, costs[value.name], value.expected_total_cost)
            for value in branches.question_values()
            if value.expected_total_cost < repair_now
        ]
        probabilities = problem.success_probabilities()
        repair_first = self._repair_first_total(plan, branches, asks, probabilities)
        steps = []
        for place, k in enumerate(plan.fixes):
            total = repair_now + place * RANK_STEP if place else repair_first
            steps.append(Step(StepKind.DO, repairs.fixes[k].id, float(problem.fix_costs[k]), total, probabilities[k]))
        last_resort_total = problem.last_resort_cost if plan.fixes else repair_now
        steps.append(Step(StepKind.LAST_RESORT, "shop", problem.last_resort_cost, last_resort_total))
        return sorted([*asks, *steps], key=lambda step: step.expected_total_cost)

    def _repair_first_total(
        self, plan: RepairPlan, branches: AnswerBranches, asks: list[Step], success_probabilities: list[float]
    ) -> float:
        """Expected total cost to rank the plan's first fix by, when it comes before any question.

        That of the best question when the fix is not better by the margin, so that the question comes first.
        """
        repair_now = plan.expected_cost_of_repair
        if not plan.fixes or not asks:
            return repair_now
        repair_first = min(repair_now, branches.cost_of_repair_first(plan.fixes[0]))
        best_ask = min(step.expected_total_cost for step in asks)
        asking_pays = best_ask < repair_now * (1 - REPAIR_FIRST_MARGIN)
        margin = REPAIR_FIRST_MARGIN if success_probabilities[plan.fixes[0]] < LIKELY and asking_pays else 0.0
        return repair_first if repair_first < best_ask * (1 - margin) else max(repair_first, best_ask)

    def _mandatory_step(self, available: AvailableSteps, repairs: _Repairs, person: Person) -> Step | None:
        """The step that comes before all others, whatever it is worth; None when there is none.

        In this order: opening questions that need no power, fixes that rules put first, the other opening questions, questions
        that rules put first, questions whose answers are out of date.
        """
        opening, rules = self.knowledge.base.opening, available.inference.first
        harmless = [name for name in opening if not self.knowledge.findings[name].powered]
        return (
            self._mandatory_question(harmless, available, repairs, person)
            or self._mandatory_fix(available, repairs, person)
            or self._mandatory_question((*opening, *rules, *sorted(available.observations.stale)), available, repairs, person)
        )

    def _mandatory_question(
        self, names: Iterable[str], available: AvailableSteps, repairs: _Repairs, person: Person
    ) -> Step | None:
        """The first of these questions that is available."""
        can_be_asked = {f.id for f in available.questions()}
        for name in names:
            if name in can_be_asked:
                opening, rule = name in self.knowledge.base.opening, available.inference.first.get(name, "")
                own_cost, total = self.own_cost((StepKind.ASK, name), person), repairs.plan.expected_cost_of_repair
                return Step(StepKind.ASK, name, own_cost, total, opening=opening, rule="" if opening else rule)
        return None

    def _mandatory_fix(self, available: AvailableSteps, repairs: _Repairs, person: Person) -> Step | None:
        """The first fix that a rule puts first and that is available."""
        can_be_done = {a.id for a in available.fixes()}
        for name, rule in available.inference.do_first.items():
            if name in can_be_done:
                of_fix = zip((fix.id for fix in repairs.fixes), repairs.problem.success_probabilities(), strict=True)
                own_cost, total = self.own_cost((StepKind.DO, name), person), repairs.plan.expected_cost_of_repair
                return Step(StepKind.DO, name, own_cost, total, dict(of_fix).get(name, 0.0), rule=rule)
        return None
