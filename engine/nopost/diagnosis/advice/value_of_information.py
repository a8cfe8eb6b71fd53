"""What asking is worth: the expected cost of repair after each possible answer, against the one now.

ECO = cost of asking + sum over answers of P(answer) * ECR given the answer; ask only when that is less than the ECR now
(Heckerman, Breese & Rommelse 1995, p. 53). One step ahead for all questions, two steps where the number of branches is small.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.advice.repair import RepairPlan, best_plan, exact_cost, greedy_cost
from nopost.diagnosis.belief.hypotheses import Floats, Ints

TWO_STEP_BRANCHES = 1200
"""Up to this many branches two questions in a row are looked at."""
REFINED = 4
"""So many of the best questions have their branches' plans solved exactly."""
REFINED_ACTIONS = 7


@dataclass(frozen=True)
class RepairProblem:
    """A repair problem: (H,) belief over hypotheses, (H, K) how each shares out over K ways to be broken, and the fixes.

    Shares are (K,) when hypothesis k is way k: then they say how much of it is left.
    """

    belief: Floats
    shares: Floats
    chance: Floats
    cost: Floats
    shop: float

    def masses(self, rows: Floats) -> Floats:
        """(R, K) probability of each way to be broken, each row of (R, H) likelihoods being seen."""
        if self.shares.ndim == 1:
            return np.asarray(rows * (self.belief * self.shares))
        return np.asarray(rows @ (self.belief[:, None] * self.shares))

    def mass(self) -> Floats:
        """(K,) probability of each way to be broken."""
        return np.asarray(self.belief * self.shares if self.shares.ndim == 1 else self.belief @ self.shares)

    def weight(self) -> float:
        """Probability of being here, 1 but for rounding in a problem of its own."""
        return float(self.mass().sum())

    def chances(self) -> list[float]:
        """(A,) chance that each fix starts the machine now."""
        mass = self.mass()
        return [float(chance) for chance in mass @ self.chance / mass.sum()]

    def plan(self) -> RepairPlan:
        """The best plan when nothing is asked."""
        return best_plan(self.mass(), self.chance, self.cost, self.shop)

    def after(self, fix: int) -> RepairProblem:
        """The problem when this fix has failed: what is left of each hypothesis, and the other fixes."""
        others = np.arange(len(self.cost)) != fix
        shares = self.shares * (1 - self.chance[:, fix])
        return RepairProblem(self.belief, shares, self.chance[:, others], self.cost[others], self.shop)


@dataclass(frozen=True)
class Question:
    """A question that can be asked: its cost and (H, answers) P(answer | hypothesis)."""

    name: str
    cost: float
    table: Floats


@dataclass(frozen=True, slots=True)
class QuestionValue:
    """What a question is worth: expected total cost when asked first, its own cost included."""

    name: str
    total: float


def value_of_information(problem: RepairProblem, questions: Sequence[Question]) -> list[QuestionValue]:
    """Expected total cost with each question asked first, the cheapest first."""
    return Branches.of(problem, questions).values()


def cost_of_repair_first(problem: RepairProblem, fix: int, questions: Sequence[Question]) -> float:
    """Expected total cost when this fix comes first and then, if it fails, whatever is best: a question or more fixes."""
    return Branches.of(problem, questions).waiting(fix)


@dataclass(frozen=True)
class Branches:
    """All answers to all questions: (R, K) masses, a row for each answer, question by question."""

    problem: RepairProblem
    questions: Sequence[Question]
    masses: Floats

    @classmethod
    def of(cls, problem: RepairProblem, questions: Sequence[Question]) -> Branches:
        """The branches of a problem."""
        return cls(problem, questions, problem.masses(_columns(questions)) if questions else np.zeros((0, len(problem.chance))))

    def values(self) -> list[QuestionValue]:
        """Expected total cost with each question asked first, the cheapest first."""
        if not self.questions:
            return []
        ranked = sorted(zip(self._totals(), self.questions, strict=True), key=lambda pair: (pair[0], pair[1].name))
        return [QuestionValue(question.name, float(total)) for total, question in ranked]

    def waiting(self, fix: int) -> float:
        """Expected total cost when this fix comes first and then, if it fails, whatever is best."""
        later = Branches(self.problem.after(fix), self.questions, self.masses * (1 - self.problem.chance[:, fix]))
        then = min([later.problem.plan().cost, *(v.total for v in later.values()[:1])])
        return float(self.problem.cost[fix] * self.problem.weight() + then)

    def _totals(self) -> Floats:
        if len(self.masses) ** 2 <= TWO_STEP_BRANCHES and len(self.questions) > 1:
            return self._two_steps()
        return self._refined(self._sums(self._greedy(self.masses)) + self._asking())

    def _refined(self, totals: Floats) -> Floats:
        """The best few with their rows solved exactly, so that like is compared with like."""
        best = np.argsort(totals, kind="stable")[:REFINED]
        rows = np.flatnonzero(np.isin(self._question_of_row(), best))
        costs = np.zeros(len(self.masses))
        costs[rows] = self._exact(self.masses[rows])
        return np.asarray(np.where(np.isin(np.arange(len(totals)), best), self._sums(costs) + self._asking(), totals))

    def _two_steps(self) -> Floats:
        """Each question, then after each answer the best of: repair at once, or one more question."""
        columns = _columns(self.questions)
        pairs = (columns[:, None, :] * columns).reshape(-1, columns.shape[1])
        then = self._exact(self.problem.masses(pairs)).reshape(len(columns), -1)
        second = self._sums(then.T).T + self.masses.sum(axis=1)[:, None] * [q.cost for q in self.questions]
        second[np.arange(len(columns)), self._question_of_row()] = np.inf
        return np.asarray(self._sums(np.minimum(self._exact(self.masses), second.min(axis=1))) + self._asking())

    def _asking(self) -> Floats:
        """(Q,) cost of asking each, times the chance of being here at all."""
        return np.array([q.cost for q in self.questions]) * self.problem.weight()

    def _sizes(self) -> list[int]:
        return [q.table.shape[1] for q in self.questions]

    def _question_of_row(self) -> Ints:
        return np.repeat(np.arange(len(self.questions)), self._sizes())

    def _sums(self, rows: Floats) -> Floats:
        """Sums over the answers to each question."""
        return np.asarray(np.add.reduceat(rows, np.cumsum([0, *self._sizes()[:-1]])))

    def _greedy(self, masses: Floats) -> Floats:
        return greedy_cost(masses, self.problem.chance, self.problem.cost, self.problem.shop)

    def _exact(self, masses: Floats) -> Floats:
        return exact_cost(masses, self.problem.chance, self.problem.cost, self.problem.shop, REFINED_ACTIONS)


def _columns(questions: Sequence[Question]) -> Floats:
    """(R, H) P(answer | hypothesis), a row for each answer."""
    return np.concatenate([q.table.T for q in questions])
