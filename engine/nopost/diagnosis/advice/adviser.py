"""The next step: what has to come first, else the question, fix or last resort with the least expected total cost."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np

from nopost.diagnosis.advice.available_steps import AvailableSteps
from nopost.diagnosis.advice.lookahead import Lookahead, lookahead
from nopost.diagnosis.advice.looking_again import DecisiveAnswers
from nopost.diagnosis.advice.preparations import RepairCosts, Workplace
from nopost.diagnosis.advice.repair import RepairPlan
from nopost.diagnosis.advice.rounds import best_round
from nopost.diagnosis.advice.value_of_information import (
    AnswerBranches,
    Question,
    RepairProblem,
    asking_costs,
    cost_of_repair_first,
    value_of_information,
)
from nopost.diagnosis.belief.evidence import Evidence
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.history import (
    EventKind,
    Person,
    action_effort,
    effort_cost,
)
from nopost.diagnosis.workplace import part_price
from nopost.knowledge.model import Action, Effort

REPAIR_FIRST_MARGIN = 0.03
"""A fix comes before a question that is itself worth this share only when it is better by this share. Looking one question
ahead undervalues asking, for more questions can follow; and a look is easier on a person than work (judgement)."""

LIKELY = 0.3
"""A fix with at least this probability of success need not be better by the margin; one for which nothing is bought comes first
even when it is worse by the margin (judgement)."""

DEAR, RISKY = 10.0, 3.0
"""Money for a part, and expected damage in money, from which on a second look at what speaks for a fix is considered (judgement:
a coin cell is no matter, while a write of the firmware cannot be undone)."""

LEAST_VALUE = 0.008
"""A question that is not put first by a rule is asked only when it saves this share of the expected cost of repair (judgement):
forty looks that each save a little try a person's patience more than the step they put off."""

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
    that puts it first whatever it is worth, "" when none does. `together`: findings asked, or fixes done before the machine is
    tried, in one go with it; costs and probabilities are of all. `again`: it is a second look at what was answered. With a rule,
    whose hazard stops everything that needs power, it is taken without power. `spares`: the fix before which it is made as a
    look, "" for what stands for itself.
    """

    kind: StepKind
    id: str
    cost: float
    expected_total_cost: float
    success_probability: float = 0.0
    opening: bool = False
    rule: str = ""
    together: tuple[str, ...] = ()
    again: bool = False
    spares: str = ""

    @property
    def look(self) -> EventKind:
        """The kind of event that an answer to it makes."""
        return EventKind.LOOKED_AGAIN if self.again else EventKind.ANSWER


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
        self._part_prices = self._prices_of_parts()
        self._decisive = DecisiveAnswers(model)
        self._workplace = lru_cache(maxsize=8)(lambda person: Workplace(model.knowledge, person))

    def advise(self, available: AvailableSteps, evidence: Evidence, posterior: Floats, person: Person) -> Advice:
        """The next step among the available ones.

        Args:
            available: the questions and fixes to choose from.
            evidence: all evidence.
            posterior: (H,) the model's posterior for this evidence.
            person: whose costs count.
        """
        cases = lookahead(self.model, self.model.current_posterior(posterior, evidence))
        repairs = self._repairs(self._helpful_fixes(available.fixes(), cases), cases, person, available)
        questions = self._questions(available, cases, evidence, person)
        steps = self._ranked_steps(repairs, questions)
        first = self._mandatory_step(available, repairs, person)
        if first is None and self._is_momentous(steps[0]):
            steps = [*self._second_looks(available, cases, evidence, posterior, repairs, person, steps[0]), *steps]
        first = first or self._look_first(steps[0], available, person)
        to_confirm = available.danger_to_confirm is not None
        kept = (s for s in steps if s.id != first.id and not (to_confirm and s.kind is StepKind.LAST_RESORT))
        others = tuple(kept)[:MOST_OTHERS]
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
        repairs = self._repairs(available.fixes(), cases, person, available)
        if kind is StepKind.LAST_RESORT:
            return repairs.problem.last_resort_cost()
        questions = self._questions(available, cases, evidence, person)
        if kind is StepKind.ASK:
            chosen = [q for q in questions if q.name == name]
            if chosen:
                return value_of_information(repairs.problem, chosen)[0].expected_total_cost
        else:
            place = [k for k, fix in enumerate(repairs.fixes) if fix.id == name]
            if place:
                return cost_of_repair_first(repairs.problem, place[:1], questions)
        return self.own_cost(step, person) + repairs.plan.expected_cost_of_repair

    def own_cost(self, step: tuple[StepKind, str], person: Person) -> float:
        """What the step itself costs, in money, without preparations and without trying the machine."""
        kind, name = step
        if kind is StepKind.ASK:
            return self._workplace(person).look_costs[name]
        return effort_cost(self.knowledge, action_effort(self.knowledge, self.knowledge.actions[name], person), person)

    def _prices_of_parts(self) -> Floats:
        """(C + 1,) money for the part that each cause turns out to need, and for an unlisted one the prior mean of them."""
        prices = [part_price(self.knowledge.causes[c], self.knowledge.actions) for c in self.model.hypotheses.causes]
        weights = np.exp(self.model.hypotheses.log_prior[: len(prices)])
        return np.append(prices, np.average(prices, weights=weights))

    def _helpful_fixes(self, fixes: list[Action], cases: Lookahead) -> list[Action]:
        """Fixes that can remove one of the faults considered."""
        causes = cases.faults[cases.faults < len(self._repair_probabilities)]
        helps = self._repair_probabilities[causes].max(axis=0, initial=0.0) > 0
        return [fix for fix in fixes if helps[self._fix_index[fix.id]]]

    def _repairs(self, fixes: list[Action], cases: Lookahead, person: Person, available: AvailableSteps) -> _Repairs:
        """The repair problem of these fixes over the faults considered; no fix removes an unlisted cause."""
        workplace, names = self._workplace(person), [a.id for a in fixes]
        columns = [self._fix_index[name] for name in names]
        of_listed = self._repair_probabilities[:, columns]
        own = np.array([workplace.fix_costs[name] for name in names])
        costs = RepairCosts(
            fixes=own,
            last_resort=workplace.labour + self._part_prices[cases.faults],
            places=np.array([workplace.fix_places[name] for name in names]).reshape(
                len(names), len(workplace.preparations.costs)
            ),
            preparations=workplace.preparations,
            trial=workplace.trial,
            postponable=own <= workplace.trial,
            exchange=workplace.exchange,
        )
        repair_probability = np.vstack([of_listed, np.zeros((1, len(columns)))])[cases.faults]
        ready = workplace.place(available.observations.ready)
        problem = RepairProblem(cases.belief, cases.fault_shares, repair_probability, costs, ready)
        return _Repairs(problem, fixes, problem.best_plan())

    def _questions(self, available: AvailableSteps, cases: Lookahead, evidence: Evidence, person: Person) -> list[Question]:
        """The available questions whose answers are informative."""
        findings = [f for f in available.questions() if f.id in self.model.informative_findings]
        tables = cases.predictive_tables([f.id for f in findings], evidence)
        workplace = self._workplace(person)
        return [
            Question(f.id, workplace.look_costs[f.id], table, workplace.look_places[f.id], f.powered, in_round=not f.action)
            for f, table in zip(findings, tables, strict=True)
        ]

    def _is_momentous(self, step: Step) -> bool:
        """Whether a step buys a part, may do damage, or ends it: worth a second look at what speaks for it."""
        if step.kind is StepKind.LAST_RESORT:
            return True
        effort = self.knowledge.actions[step.id].effort if step.kind is StepKind.DO else Effort(0.0)
        return effort.money >= DEAR or effort.risk >= RISKY

    def _second_looks(
        self,
        available: AvailableSteps,
        cases: Lookahead,
        evidence: Evidence,
        posterior: Floats,
        repairs: _Repairs,
        person: Person,
        best: Step,
    ) -> list[Step]:
        """The best second look at an answer that carries the decision, when it is better than the best step without it."""
        answers = self._decisive.of(available.repeatable(), posterior)
        findings = [self.knowledge.findings[report.finding] for report in answers]
        tables = cases.predictive_tables([f.id for f in findings], evidence, again=True)
        workplace = self._workplace(person)
        questions = [
            Question(f.id, workplace.second_look_costs[f.id], table, workplace.place(f.at), f.powered)
            for f, table in zip(findings, tables, strict=True)
        ]
        values = value_of_information(repairs.problem, questions)[:1]
        costs = dict(zip((q.name for q in questions), asking_costs(repairs.problem, questions).tolist(), strict=True))
        return [
            Step(StepKind.ASK, value.name, costs[value.name], value.expected_total_cost, again=True)
            for value in values
            if value.expected_total_cost < best.expected_total_cost
        ]

    def _ranked_steps(self, repairs: _Repairs, questions: list[Question]) -> list[Step]:
        """Questions that beat repair at once, the fixes of the plan and the last resort, least expected total cost first."""
        problem, plan = repairs.problem, repairs.plan
        repair_now = plan.expected_cost_of_repair
        branches = AnswerBranches.of(problem, questions)
        costs = {q.name: float(cost) for q, cost in zip(questions, branches.asking, strict=True)}
        asks = [
            Step(StepKind.ASK, value.name, costs[value.name], value.expected_total_cost)
            for value in branches.question_values()
            if value.expected_total_cost < repair_now * (1 - LEAST_VALUE)
        ]
        asks = self._with_round(branches, asks, repair_now)
        steps = self._repair_steps(repairs, self._repair_first_total(repairs, branches, asks))
        last_resort = problem.last_resort_cost()
        steps.append(Step(StepKind.LAST_RESORT, "shop", last_resort, last_resort if plan.fixes else repair_now))
        return sorted([*asks, *steps], key=lambda step: step.expected_total_cost)

    def _look_first(self, step: Step, available: AvailableSteps, person: Person) -> Step:
        """The looks that show whether the fixes of a step are needed, when there are any still to be made; else the step."""
        if step.kind is not StepKind.DO:
            return step
        can_be_asked = {finding.id for finding in available.questions()}
        fixes = {self.knowledge.actions[name].look_first: name for name in (step.id, *step.together)}
        looks = [name for name in fixes if name in can_be_asked]
        if not looks:
            return step
        first, *together = looks
        cost = sum(self.own_cost((StepKind.ASK, name), person) for name in looks)
        return Step(StepKind.ASK, first, cost, step.expected_total_cost, together=tuple(together), spares=fixes[first])

    def _repair_steps(self, repairs: _Repairs, repair_first: float) -> list[Step]:
        """The blocks of the plan, the first with its expected total cost, the later ones as if they came next."""
        problem, steps = repairs.problem, []
        for place, block in enumerate(repairs.plan.blocks):
            first, *together = (repairs.fixes[k].id for k in block)
            total = repairs.plan.expected_cost_of_repair + place * RANK_STEP if place else repair_first
            cost = problem.costs.of_block(block, problem.ready)
            steps.append(Step(StepKind.DO, first, cost, total, problem.success_of(block), together=tuple(together)))
        return steps

    def _with_round(self, branches: AnswerBranches, asks: list[Step], repair_now: float) -> list[Step]:
        """The questions, the best of them as the first of a round when looking at more in one go is better."""
        best = best_round(branches, [step.id for step in asks])
        if best is None or best.expected_total_cost >= min(repair_now, *(s.expected_total_cost for s in asks)):
            return asks
        first = Step(StepKind.ASK, best.names[0], best.cost, best.expected_total_cost, together=best.names[1:])
        return [first, *(step for step in asks if step.id != first.id)]

    def _repair_first_total(self, repairs: _Repairs, branches: AnswerBranches, asks: list[Step]) -> float:
        """Expected total cost to rank the plan's first block by, when it comes before any question.

        That of the best question when the block is not better by the margin, so that the question comes first.
        """
        problem, plan, fixes = repairs.problem, repairs.plan, repairs.fixes
        repair_now = plan.expected_cost_of_repair
        if not plan.blocks or not asks:
            return repair_now
        repair_first = min(repair_now, branches.cost_of_repair_first(plan.blocks[0]))
        best_ask, *later = sorted(step.expected_total_cost for step in asks)
        if problem.success_of(plan.blocks[0]) >= LIKELY:
            buys = any(fixes[k].effort.money for k in plan.blocks[0])
            just_before = best_ask - RANK_STEP
            return just_before if not buys and best_ask <= repair_first < best_ask * (1 + REPAIR_FIRST_MARGIN) else repair_first
        # `repair_first` counts on a question after the fix. So that like is compared with like, asking first counts on a second
        # question too: the next best, and what it saves now.
        two_asks = best_ask - max(0.0, repair_now - later[0]) if later else best_ask
        asking_pays = best_ask < repair_now * (1 - REPAIR_FIRST_MARGIN)
        margin = REPAIR_FIRST_MARGIN if asking_pays else 0.0
        return repair_first if repair_first < two_asks * (1 - margin) else max(repair_first, best_ask)

    def _mandatory_step(self, available: AvailableSteps, repairs: _Repairs, person: Person) -> Step | None:
        """The step that comes before all others, whatever it is worth; None when there is none.

        In this order: a second look at an answer that stops everything, opening questions that need no power, fixes that rules
        put first, the other opening questions, questions that rules put first, questions whose answers are out of date.
        """
        opening, rules = self.knowledge.base.opening, available.inference.first
        harmless = [name for name in opening if not self.knowledge.findings[name].powered]
        return (
            self._confirmation(available, repairs, person)
            or self._mandatory_question(harmless, available, repairs, person)
            or self._mandatory_fix(available, repairs, person)
            or self._mandatory_question((*opening, *rules, *sorted(available.observations.stale)), available, repairs, person)
        )

    def _confirmation(self, available: AvailableSteps, repairs: _Repairs, person: Person) -> Step | None:
        """A second look, without power, at the answer that raised a hazard which stops everything."""
        if available.danger_to_confirm is None:
            return None
        name, rule = available.danger_to_confirm
        cost = self._workplace(person).second_look_costs[name]
        return Step(StepKind.ASK, name, cost, repairs.plan.expected_cost_of_repair, rule=rule, again=True)

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
