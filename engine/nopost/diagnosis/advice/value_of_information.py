"""Value of information: the expected cost of repair after each possible answer to a question, against the one now.

ECO = cost of asking + sum over answers of P(answer) * ECR(answer), where ECR is the expected cost of repair; a question is asked
only when its ECO is less than the ECR now (Heckerman, Breese & Rommelse 1995, CACM 38(3), p. 53). One question ahead for all
questions, two where the number of branches is small or much is at stake. Costs are in money.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from nopost.diagnosis.advice.preparations import RepairCosts
from nopost.diagnosis.advice.promising_fixes import greedy_cost
from nopost.diagnosis.advice.repair import EXACT_FIXES, LARGEST_BLOCK, FixSets, RepairPlan, exact_cost
from nopost.diagnosis.belief.hypotheses import Floats, Ints

POSTPONE_MARGIN = 0.1
"""Fixes come before one trial only when that saves this share of the expected cost of repair (judgement)."""
TWO_STEP_BRANCHES = 1200
"""Two questions in a row are considered when that makes no more than this many branches (judgement: quick enough)."""
REFINED_QUESTIONS = 4
"""For this many of the best questions the plans of all branches are solved exactly."""
REFINED_AFTER_REPAIR = 2
"""The same after fixes that failed, where only the best question counts."""
REFINED_FIXES = 6
"""So many fixes are followed in a branch, and compared in all orders."""
REFINED_BLOCK = 2
"""So many fixes come before one trial at most in a branch."""
QUESTIONS_AFTER_REPAIR = 12
"""So many of the questions that are best now are considered after fixes that failed (judgement: what is worth asking changes
little by one failed fix, and all of them take as long as the choice itself)."""


@dataclass(frozen=True)
class RepairProblem:
    """What may be wrong, and the fixes.

    `belief`: (H,) probabilities of H cases; `fault_shares`: (H, K) how each case is shared out over K faults, or (K,) when case k
    is fault k, and then how much of it remains; `repair_probability`: (K, A) P(fix removes fault); `costs`: of the fixes and the
    last resort; `ready`: (P,) preparations that are made now.
    """

    belief: Floats
    fault_shares: Floats
    repair_probability: Floats
    costs: RepairCosts
    ready: Floats = field(default_factory=lambda: np.zeros(0))

    def fault_masses(self, likelihoods: Floats) -> Floats:
        """(R, K) P(fault and observation) for each of R observations, from (R, H) P(observation | case)."""
        if self.fault_shares.ndim == 1:
            return np.asarray(likelihoods * (self.belief * self.fault_shares))
        return np.asarray(likelihoods @ (self.belief[:, None] * self.fault_shares))

    @cached_property
    def fault_mass(self) -> Floats:
        """(K,) probability of each fault."""
        return np.asarray(self.belief * self.fault_shares if self.fault_shares.ndim == 1 else self.belief @ self.fault_shares)

    def total_mass(self) -> float:
        """Probability of the problem: 1 but for rounding, less after a failed fix."""
        return float(self.fault_mass.sum())

    def last_resort_cost(self) -> float:
        """Expected cost of the last resort, taken now."""
        return float(self.fault_mass @ self.costs.last_resort)

    def success_probabilities(self) -> list[float]:
        """(A,) probability that the machine starts after each fix, if it is done now."""
        mass = self.fault_mass
        return [float(probability) for probability in mass @ self.repair_probability / mass.sum()]

    def by_fault(self) -> RepairProblem:
        """The same problem with a case for each fault: exact for one observation, and for more when no case holds two faults."""
        return replace(self, belief=self.fault_mass, fault_shares=np.ones(len(self.repair_probability)))

    def best_plan(self, postpone_margin: float = POSTPONE_MARGIN) -> RepairPlan:
        """The best plan when nothing is asked.

        With a trial after each fix, unless several before one trial are cheaper by the margin, a share of the cost: done together
        they leave open which of them helped.
        """
        sets = FixSets(self.fault_mass[None], self.repair_probability, self.costs, self.ready[None], EXACT_FIXES)
        tried_each = sets.plan(most=1)
        if not self.costs.trial or not self._may_postpone(tried_each):
            return tried_each
        together = sets.plan(LARGEST_BLOCK)
        enough = tried_each.expected_cost_of_repair * (1 - postpone_margin)
        return together if together.expected_cost_of_repair < enough else tried_each

    def expected_cost_of_repair(self) -> float:
        """Expected cost of the best plan with a trial after each fix."""
        mass, ready = self.fault_mass[None], self.ready[None]
        return float(exact_cost(mass, self.repair_probability, self.costs, ready, most=1)[0])

    def greedy_costs(self, masses: Floats, ready: Floats) -> Floats:
        """(R,) expected cost of repair in each branch, greedy by efficiency.

        `masses`: (R, K) P(fault and observation); `ready`: (R, P), or (P,) for all branches.
        """
        return greedy_cost(masses, self.repair_probability, self.costs, _in_each(ready, masses), REFINED_FIXES)

    def exact_costs(self, masses: Floats, ready: Floats) -> Floats:
        """(R,) the same by the best plan."""
        everywhere = _in_each(ready, masses)
        return exact_cost(masses, self.repair_probability, self.costs, everywhere, REFINED_FIXES, REFINED_BLOCK)

    def success_of(self, block: Sequence[int]) -> float:
        """Probability that the machine starts after these fixes, if they are done now."""
        mass = self.fault_mass
        return float(1 - mass @ self.persistence(block) / mass.sum())

    def persistence(self, block: Sequence[int]) -> Floats:
        """(K,) P(the fault is present after these fixes | it was present)."""
        return np.asarray(np.prod(1 - self.repair_probability[:, list(block)], axis=1))

    def _may_postpone(self, plan: RepairPlan) -> bool:
        """Whether two fixes of a plan could come before one trial."""
        postponable = self.costs.postponable
        return sum(1 for fix in plan.fixes if postponable is None or postponable[fix]) > 1

    def after_failed(self, block: Sequence[int]) -> RepairProblem:
        """The problem when these fixes have failed: what remains of each case, and the other fixes."""
        return RepairProblem(
            self.belief,
            self.fault_shares * self.persistence(block),
            np.delete(self.repair_probability, block, axis=1),
            self.costs.without(block),
            self.costs.preparations.once_tried(np.maximum(self.ready, self.costs.place_of(block))),
        )


@dataclass(frozen=True)
class Question:
    """A question that can be asked: id, own cost of asking, and (H, answers) P(answer | case).

    `place`: (P,) preparations that it needs; `powered`: whether the machine is switched on for it; `in_round`: whether it can be
    one of several looks made in one go.
    """

    name: str
    cost: float
    table: Floats
    place: Floats = field(default_factory=lambda: np.zeros(0))
    powered: bool = False
    in_round: bool = False


@dataclass(frozen=True, slots=True)
class QuestionValue:
    """What a question is worth: the expected total cost when it is asked first (ECO), its own cost included."""

    name: str
    expected_total_cost: float


def value_of_information(problem: RepairProblem, questions: Sequence[Question]) -> list[QuestionValue]:
    """Expected total cost with each question asked first, the cheapest first."""
    return AnswerBranches.of(problem, questions).question_values()


def cost_of_repair_first(problem: RepairProblem, block: Sequence[int], questions: Sequence[Question]) -> float:
    """Expected total cost when these fixes come first and then, if they fail, whatever is best: a question or more fixes."""
    return AnswerBranches.of(problem, questions).cost_of_repair_first(block)


def asking_costs(problem: RepairProblem, questions: Sequence[Question]) -> Floats:
    """(Q,) what asking each costs now, with the preparations that it needs."""
    if not questions:
        return np.zeros(0)
    preparations = problem.costs.preparations
    places, powered = _places(questions)
    still = preparations.before_look(places, problem.ready, powered)
    own = problem.costs.exchange + np.array([q.cost for q in questions])
    return own + preparations.missing_cost(places, still)


def ready_after(problem: RepairProblem, questions: Sequence[Question]) -> Floats:
    """(Q, P) preparations that are made after each question."""
    places, powered = _places(questions)
    return problem.costs.preparations.after_look(places, problem.ready, powered)


def _places(questions: Sequence[Question]) -> tuple[Floats, Floats]:
    """(Q, P) places of the questions, and (Q, 1) whether each needs power."""
    return np.array([q.place for q in questions]), np.array([[q.powered] for q in questions])


@dataclass(frozen=True)
class AnswerBranches:
    """A branch for each answer to each question, R in all, question by question.

    `fault_masses`: (R, K) P(fault and answer); `asking`: (Q,) cost of asking each; `ready`: (R, P) what is ready in each branch.
    """

    problem: RepairProblem
    questions: Sequence[Question]
    fault_masses: Floats
    asking: Floats
    ready: Floats

    @classmethod
    def of(cls, problem: RepairProblem, questions: Sequence[Question], masses: Floats | None = None) -> AnswerBranches:
        """The branches of these questions in a problem; `masses`: their (R, K) fault masses when they are known."""
        if not questions:
            none = np.zeros((0, len(problem.repair_probability)))
            return cls(problem, questions, none, np.zeros(0), np.zeros((0, len(problem.ready))))
        masses = problem.fault_masses(_likelihoods(questions)) if masses is None else masses
        ready = ready_after(problem, questions)[_question_of_branch(questions)]
        return cls(problem, questions, masses, asking_costs(problem, questions), ready)

    @cached_property
    def expected_costs(self) -> Floats:
        """(Q,) expected total cost with each question asked first."""
        if len(self.fault_masses) ** 2 <= TWO_STEP_BRANCHES and len(self.questions) > 1:
            return self._two_questions_ahead()
        return self._one_question_ahead()

    def question_values(self) -> list[QuestionValue]:
        """Expected total cost with each question asked first, the cheapest first."""
        if not self.questions:
            return []
        ranked = sorted(zip(self.expected_costs, self.questions, strict=True), key=lambda pair: (pair[0], pair[1].name))
        return [QuestionValue(question.name, float(total)) for total, question in ranked]

    def cost_of_repair_first(self, block: Sequence[int]) -> float:
        """Expected total cost when these fixes come first and then, if they fail, whatever is best: a question or more fixes."""
        problem, few = self.problem, self._best(QUESTIONS_AFTER_REPAIR)
        masses = few.fault_masses * problem.persistence(block)
        after = AnswerBranches.of(problem.after_failed(block), few.questions, masses)
        cost_after = min([after.problem.expected_cost_of_repair(), *after._one_question_ahead(REFINED_AFTER_REPAIR)])
        return float(problem.costs.of_block(block, problem.ready) * problem.total_mass() + cost_after)

    def question_by_fault(self, name: str) -> Question:
        """The question of this name with (K, answers) P(answer | fault), for `RepairProblem.by_fault`."""
        place = next(k for k, question in enumerate(self.questions) if question.name == name)
        joint, mass = self.fault_masses[_question_of_branch(self.questions) == place], self.problem.fault_mass
        return replace(self.questions[place], table=(joint / np.where(mass > 0, mass, 1.0)).T)

    def _best(self, count: int) -> AnswerBranches:
        """The branches of the best few questions."""
        if len(self.questions) <= count:
            return self
        best = np.sort(np.argsort(self.expected_costs, kind="stable")[:count])
        branches = np.flatnonzero(np.isin(_question_of_branch(self.questions), best))
        questions = [self.questions[k] for k in best]
        return AnswerBranches(self.problem, questions, self.fault_masses[branches], self.asking[best], self.ready[branches])

    def _one_question_ahead(self, refined: int = REFINED_QUESTIONS) -> Floats:
        """(Q,) expected total cost with each question asked first and repair after its answer."""
        if not self.questions:
            return np.zeros(0)
        greedy = self.problem.greedy_costs(self.fault_masses, self.ready)
        return self._refined(self._sum_over_answers(greedy) + self._costs_of_asking(), refined)

    def _refined(self, expected_costs: Floats, count: int) -> Floats:
        """(Q,) the same with the branches of the best few solved exactly, so that like is compared with like."""
        best = np.argsort(expected_costs, kind="stable")[:count]
        branches = np.flatnonzero(np.isin(_question_of_branch(self.questions), best))
        costs = np.zeros(len(self.fault_masses))
        costs[branches] = self.problem.exact_costs(self.fault_masses[branches], self.ready[branches])
        refined = self._sum_over_answers(costs) + self._costs_of_asking()
        return np.asarray(np.where(np.isin(np.arange(len(expected_costs)), best), refined, expected_costs))

    def _two_questions_ahead(self) -> Floats:
        """(Q,) cost of each question and, after each answer, of the better of repair and the best second question."""
        likelihoods, count = _likelihoods(self.questions), len(self.questions)
        pairs = (likelihoods[:, None, :] * likelihoods).reshape(-1, likelihoods.shape[1])
        of_branch = _question_of_branch(self.questions)
        after_first = [replace(self.problem, ready=ready) for ready in ready_after(self.problem, self.questions)]
        ready = np.concatenate([ready_after(after_first[q], self.questions)[of_branch] for q in of_branch])
        repair_after_both = self.problem.exact_costs(self.problem.fault_masses(pairs), ready).reshape(len(likelihoods), -1)
        second_asking = np.array([asking_costs(after_first[q], self.questions) for q in range(count)])[of_branch]
        asking = self.fault_masses.sum(axis=1)[:, None] * second_asking
        second = self._sum_over_answers(repair_after_both.T).T + asking
        second[np.arange(len(likelihoods)), of_branch] = np.inf  # no question twice
        after_answer = np.minimum(self.problem.exact_costs(self.fault_masses, self.ready), second.min(axis=1))
        return np.asarray(self._sum_over_answers(after_answer) + self._costs_of_asking())

    def _costs_of_asking(self) -> Floats:
        """(Q,) cost of asking each, times the probability of the problem."""
        return self.asking * self.problem.total_mass()

    def _sum_over_answers(self, values: Floats) -> Floats:
        """(Q, …) sums of (R, …) values over the answers to each question."""
        counts = _answer_counts(self.questions)
        return np.asarray(np.add.reduceat(values, np.cumsum([0, *counts[:-1]])))


def _likelihoods(questions: Sequence[Question]) -> Floats:
    """(R, H) P(answer | case), a row for each answer of each question."""
    return np.concatenate([q.table.T for q in questions])


def _answer_counts(questions: Sequence[Question]) -> list[int]:
    return [q.table.shape[1] for q in questions]


def _question_of_branch(questions: Sequence[Question]) -> Ints:
    """(R,) index of the question of each branch."""
    return np.repeat(np.arange(len(questions)), _answer_counts(questions))


def _in_each(ready: Floats, masses: Floats) -> Floats:
    """(R, P) what is ready in each of R branches."""
    return np.broadcast_to(ready, (len(masses), ready.shape[-1]))
