"""The engine's advice as a policy for small problems, once through the numbers alone and once through whole diagnoses."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from diagnosis.advice.optimum import LAST_RESORT, Move, State, TroubleshootingProblem, World
from diagnosis.advice.plain import repair_problem
from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.advice.value_of_information import AnswerBranches, Question
from nopost.diagnosis.belief.evidence import Observations, Report
from nopost.diagnosis.diagnose import Diagnostician
from nopost.knowledge.model import Knowledge

Policy = Callable[[State], Move]


def adviser_policy(problem: TroubleshootingProblem) -> Policy:
    """Chooses as the adviser does: ask when that beats repair at once and beats the first fix with a question after it."""
    worlds = list(problem.prior)
    repair_probability = np.array([[fix.get(_cause(w), 0.0) for fix in problem.repair_probability] for w in worlds])
    tables = [np.array([table[w] for w in worlds]) for table in problem.answer_tables]

    def choose(state: State) -> Move:
        belief = np.array([state.belief.get(w, 0.0) for w in worlds]) / state.weight
        fixes = state.remaining("fix", len(problem.fix_costs))
        costs = np.array([problem.fix_costs[f] for f in fixes])
        chance = repair_probability[:, fixes]
        problem_now = repair_problem(belief, np.eye(len(worlds)), chance, costs, problem.last_resort_cost)
        asked = state.remaining("ask", len(problem.question_costs))
        questions = [Question(str(q), problem.question_costs[q], tables[q]) for q in asked]
        plan, branches = problem_now.best_plan(), AnswerBranches.of(problem_now, questions)
        for best in branches.question_values()[:1]:
            total = best.expected_total_cost
            pays = total < plan.expected_cost_of_repair
            if pays and (not plan.fixes or total < branches.cost_of_repair_first(plan.fixes[:1])):
                return "ask", int(best.name)
        return ("fix", fixes[plan.fixes[0]]) if plan.fixes else LAST_RESORT

    return choose


def _cause(world: World) -> int:
    """The cause of a world with one, -1 for a world without."""
    return next(iter(world), -1)


def diagnosis_policy(diagnostician: Diagnostician) -> Policy:
    """Chooses what a whole diagnosis advises; questions and fixes by their place in the knowledge base."""
    findings, actions = list(diagnostician.knowledge.findings), list(diagnostician.knowledge.actions)

    def choose(state: State) -> Move:
        advice = diagnostician.assess(_observations(diagnostician.knowledge, state)).advice
        step = next(s for s in (advice.step, *advice.others) if not s.again)  # the optimum knows no second looks
        if step.kind is StepKind.ASK:
            return "ask", findings.index(step.id)
        return ("fix", actions.index(step.id)) if step.kind is StepKind.DO else LAST_RESORT

    return choose


def _observations(knowledge: Knowledge, state: State) -> Observations:
    """A state of a small problem as observations about its knowledge base."""
    findings, actions = list(knowledge.findings.values()), list(knowledge.actions)
    reports: list[Report] = []
    tried: list[str] = []
    for (kind, number), answer in state.history:
        if kind == "ask":
            reports.append(Report(findings[number].id, findings[number].answer_ids[answer], len(tried)))
        else:
            tried.append(actions[number])
    return Observations(tuple(reports), tuple(tried))


def as_problem(diagnostician: Diagnostician) -> TroubleshootingProblem:
    """A compiled knowledge base, whose efforts are minutes at one unit of money each, as a small problem."""
    model, knowledge = diagnostician.model, diagnostician.knowledge
    hypotheses = model.hypotheses
    worlds: list[World] = [frozenset({int(i), int(j)} - {-1}) for i, j in zip(hypotheses.first, hypotheses.second, strict=True)]
    fixes = [{model.cause_index[c.id]: c.fixes[a] for c in knowledge.causes.values() if a in c.fixes} for a in knowledge.actions]
    return TroubleshootingProblem(
        prior=dict(zip(worlds, map(float, np.exp(hypotheses.log_prior)), strict=True)),
        answer_tables=[dict(zip(worlds, model.reported_answer_tables[f].tolist(), strict=True)) for f in knowledge.findings],
        question_costs=[f.effort.minutes for f in knowledge.findings.values()],
        repair_probability=fixes,
        fix_costs=[a.effort.minutes for a in knowledge.actions.values()],
        last_resort_cost=knowledge.base.shop.effort.money,
    )
