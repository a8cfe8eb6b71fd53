"""Value of information: the expected cost of repair after each possible answer to a question, against the one now.

ECO = cost of asking + sum over answers of P(answer) * ECR(answer), where ECR is the expected cost of repair; a question is asked
only when its ECO is less than the ECR now (Heckerman, Breese & Rommelse 1995, CACM 38(3), p. 53). One question ahead for all
questions, two where the number of branches is small. Costs are in money.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.advice.repair import RepairPlan, best_plan, exact_cost, greedy_cost
from nopost.diagnosis.belief.hypotheses import Floats, Ints

TWO_STEP_BRANCHES = 1200
"""Two questions in a row are considered when that makes no more than this many branches (judgement: quick enough)."""
REFINED_QUESTIONS = 4
"""For this many of the best questions the plans of all branches are solved exactly."""
REFINED_FIXES = 7
"""So many fixes are compared in all orders in a branch."""


@dataclass(frozen=True)
class RepairProblem:
    """What may be wrong, and the fixes.

    `belief`: (H,) probabilities of H cases; `fault_shares`: (H, K) how each case is shared out over K faults, or (K,) when case k
    is fault k, and then how much of it remains; `repair_probability`: (K, A) P(fix removes fault); `fix_costs`: (A,);
    `last_resort_cost`: of the last resort.
    """

    belief: Floats
    fault_shares: Floats
    repair_probability: Floats
    fix_costs: Floats
    last_resort_cost: float

    def fault_masses(self, likelihoods: Floats) -> Floats:
        """(R, K) P(fault and observation) for each of R observations, from (R, H) P(observation | case)."""
        if self.fault_shares.ndim == 1:
            return np.asarray(likelihoods * (self.belief * self.fault_shares))
        return np.asarray(likelihoods @ (self.belief[:, None] * self.fault_shares))

    def fault_mass(self) -> Floats:
        """(K,) probability of each fault."""
        return np.asarray(self.belief * self.fault_shares if self.fault_shares.ndim == 1 else self.belief @ self.fault_shares)

    def total_mass(self) -> float:
        """Probability of the problem: 1 but for rounding, less after a failed fix."""
        return float(self.fault_mass().sum())

    def success_probabilities(self) -> list[float]:
        """(A,) probability that the machine starts after each fix, if it is done now."""
        mass = self.fault_mass()
        return [float(probability) for probability in mass @ self.repair_probability / mass.sum()]

    def best_plan(self) -> RepairPlan:
        """The best plan when nothing is asked."""
        return best_plan(self.fault_mass(), self.repair_probability, self.fix_costs, self.last_resort_cost)

    def after_failed_fix(self, fix: int) -> RepairProblem:
        """The problem when this fix has failed: what remains of each case, and the other fixes."""
        others = np.arange(len(self.fix_costs)) != fix
        shares = self.fault_shares * (1 - self.repair_probability[:, fix])
        return RepairProblem(
            self.belief, shares, self.repair_probability[:, others], self.fix_costs[others], self.last_resort_cost
        )


@dataclass(frozen=True)
class Question:
    """A question that can be asked: id, cost of asking, and (H, answers) P(answer | case)."""

    name: str
    cost: float
    table: Floats


@dataclass(frozen=True, slots=True)
class QuestionValue:
    """What a question is worth: the expected total cost when it is asked first (ECO), its own cost included."""

    name: str
    expected_total_cost: float


def value_of_information(problem: RepairProblem, questions: Sequence[Question]) -> list[QuestionValue]:
    """Expected total cost with each question asked first, the cheapest first."""
    return AnswerBranches.of(problem, questions).question_values()


def cost_of_repair_first(problem: RepairProblem, fix: int, questions: Sequence[Question]) -> float:
    """Expected total cost when this fix comes first and then, if it fails, whatever is best: a question or more fixes."""
    return AnswerBranches.of(problem, questions).cost_of_repair_first(fix)


@dataclass(frozen=True)
class AnswerBranches:
    """A branch for each answer to each question, R in all, question by question.

    `fault_masses`: (R, K) P(fault and answer).
    """

    problem: RepairProblem
    questions: Sequence[Question]
    fault_masses: Floats

    @classmethod
    def of(cls, problem: RepairProblem, questions: Sequence[Question]) -> AnswerBranches:
        """The branches of these questions in a problem."""
        none = np.zeros((0, len(problem.repair_probability)))
        return cls(problem, questions, problem.fault_masses(_likelihoods(questions)) if questions else none)

    def question_values(self) -> list[QuestionValue]:
        """Expected total cost with each question asked first, the cheapest first."""
        if not self.questions:
            return []
        ranked = sorted(zip(self._expected_costs(), self.questions, strict=True), key=lambda pair: (pair[0], pair[1].name))
        return [QuestionValue(question.name, float(total)) for total, question in ranked]

    def cost_of_repair_first(self, fix: int) -> float:
        """Expected total cost when this fix comes first and then, if it fails, whatever is best: a question or more fixes."""
        persistence = 1 - self.problem.repair_probability[:, fix]
        after = AnswerBranches(self.problem.after_failed_fix(fix), self.questions, self.fault_masses * persistence)
        best_question = (value.expected_total_cost for value in after.question_values()[:1])
        cost_after = min([after.problem.best_plan().expected_cost_of_repair, *best_question])
        return float(self.problem.fix_costs[fix] * self.problem.total_mass() + cost_after)

    def _expected_costs(self) -> Floats:
        """(Q,) expected total cost with each question asked first."""
        if len(self.fault_masses) ** 2 <= TWO_STEP_BRANCHES and len(self.questions) > 1:
            return self._two_questions_ahead()
        return self._refined(self._sum_over_answers(self._greedy_costs(self.fault_masses)) + self._costs_of_asking())

    def _refined(self, expected_costs: Floats) -> Floats:
        """(Q,) the same with the branches of the best few solved exactly, so that like is compared with like."""
        best = np.argsort(expected_costs, kind="stable")[:REFINED_QUESTIONS]
        branches = np.flatnonzero(np.isin(self._question_of_branch(), best))
        costs = np.zeros(len(self.fault_masses))
        costs[branches] = self._exact_costs(self.fault_masses[branches])
        refined = self._sum_over_answers(costs) + self._costs_of_asking()
        return np.asarray(np.where(np.isin(np.arange(len(expected_costs)), best), refined, expected_costs))

    def _two_questions_ahead(self) -> Floats:
        """(Q,) cost of each question and, after each answer, of the better of repair and the best second question."""
        likelihoods = _likelihoods(self.questions)
        pairs = (likelihoods[:, None, :] * likelihoods).reshape(-1, likelihoods.shape[1])
        repair_after_both = self._exact_costs(self.problem.fault_masses(pairs)).reshape(len(likelihoods), -1)
        asking = self.fault_masses.sum(axis=1)[:, None] * [q.cost for q in self.questions]
        second = self._sum_over_answers(repair_after_both.T).T + asking
        second[np.arange(len(likelihoods)), self._question_of_branch()] = np.inf  # no question twice
        after_answer = np.minimum(self._exact_costs(self.fault_masses), second.min(axis=1))
        return np.asarray(self._sum_over_answers(after_answer) + self._costs_of_asking())

    def _costs_of_asking(self) -> Floats:
        """(Q,) cost of asking each, times the probability of the problem."""
        return np.array([q.cost for q in self.questions]) * self.problem.total_mass()

    def _answer_counts(self) -> list[int]:
        return [q.table.shape[1] for q in self.questions]

    def _question_of_branch(self) -> Ints:
        """(R,) index of the question of each branch."""
        return np.repeat(np.arange(len(self.questions)), self._answer_counts())

    def _sum_over_answers(self, values: Floats) -> Floats:
        """(Q, …) sums of (R, …) values over the answers to each question."""
        return np.asarray(np.add.reduceat(values, np.cumsum([0, *self._answer_counts()[:-1]])))

    def _greedy_costs(self, masses: Floats) -> Floats:
        """(R,) expected cost of repair of each row of (R, K) masses, greedy by efficiency."""
        return greedy_cost(masses, self.problem.repair_probability, self.problem.fix_costs, self.problem.last_resort_cost)

    def _exact_costs(self, masses: Floats) -> Floats:
        """(R,) expected cost of repair of each row of (R, K) masses by the best plan."""
        problem = self.problem
        return exact_cost(masses, problem.repair_probability, problem.fix_costs, problem.last_resort_cost, REFINED_FIXES)


def _likelihoods(questions: Sequence[Question]) -> Floats:
    """(R, H) P(answer | case), a row for each answer of each question."""
    return np.concatenate([q.table.T for q in questions])
