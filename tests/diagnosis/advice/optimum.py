"""The exact optimum of small troubleshooting problems, written on its own: it shares no code with the engine.

A world is the set of causes that are present now. A state is what was asked and done so far, with the unnormalised probability of
each world in which the machine still does not start. A fix removes each of its causes independently; an answer multiplies the
probability of each world by its likelihood. Costs are in money.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

World = frozenset[int]
Belief = dict[World, float]
Move = tuple[str, int]
"""("ask", question), ("fix", fix) or ("shop", 0)."""
LAST_RESORT: Move = ("shop", 0)


@dataclass(frozen=True)
class TroubleshootingProblem:
    """A machine that does not start.

    `prior`: of each world; `answer_tables`: for each question, world -> P(answer | world); `question_costs`: of asking each;
    `repair_probability`: for each fix, cause -> P(fix removes cause); `fix_costs`: of each fix; `last_resort_cost`: of the shop.
    """

    prior: Mapping[World, float]
    answer_tables: Sequence[Mapping[World, Sequence[float]]]
    question_costs: Sequence[float]
    repair_probability: Sequence[Mapping[int, float]]
    fix_costs: Sequence[float]
    last_resort_cost: float
    _survivors: dict[tuple[World, int], list[tuple[World, float]]] = field(default_factory=dict, init=False)

    def survivors(self, world: World, fix: int) -> list[tuple[World, float]]:
        """What may remain of a world after a fix, each with its probability; found out once."""
        if (world, fix) not in self._survivors:
            self._survivors[world, fix] = _survivors(sorted(world), self.repair_probability[fix])
        return self._survivors[world, fix]


@dataclass(frozen=True)
class State:
    """What was asked and done, as (question, answer) or (fix, -1) in order, and the belief after it."""

    history: tuple[tuple[Move, int], ...]
    belief: Belief

    @property
    def weight(self) -> float:
        """Probability of reaching this state."""
        return sum(self.belief.values())

    def remaining(self, kind: str, count: int) -> list[int]:
        """Questions not asked or fixes not done yet."""
        done = {number for (what, number), _ in self.history if what == kind}
        return [k for k in range(count) if k not in done]


def after_fix(problem: TroubleshootingProblem, state: State, fix: int) -> State:
    """The state when the machine still does not start after a fix."""
    belief: Belief = {}
    for world, weight in state.belief.items():
        for world_now, share in problem.survivors(world, fix):
            if world_now or not world:
                belief[world_now] = belief.get(world_now, 0.0) + weight * share
    return State((*state.history, (("fix", fix), -1)), belief)


def _survivors(causes: Sequence[int], chance: Mapping[int, float]) -> list[tuple[World, float]]:
    """What may remain of these causes after a fix, each with its probability."""
    result = []
    for stays in itertools.product((True, False), repeat=len(causes)):
        share = 1.0
        for cause, stay in zip(causes, stays, strict=True):
            share *= 1 - chance.get(cause, 0.0) if stay else chance.get(cause, 0.0)
        result.append((frozenset(c for c, stay in zip(causes, stays, strict=True) if stay), share))
    return result


def after_answers(problem: TroubleshootingProblem, state: State, question: int) -> list[State]:
    """The states after a question, one for each answer."""
    table = problem.answer_tables[question]
    answers = range(len(next(iter(table.values()))))
    return [
        State((*state.history, (("ask", question), a)), {w: weight * table[w][a] for w, weight in state.belief.items()})
        for a in answers
    ]


def start(problem: TroubleshootingProblem) -> State:
    """The state in which nothing was asked or done."""
    return State((), dict(problem.prior))


def cost_of(problem: TroubleshootingProblem, state: State, move: Move, follow: Callable[[State], float]) -> float:
    """Expected cost of a move and all that follows, times the probability of the state."""
    kind, number = move
    if kind == "shop":
        return problem.last_resort_cost * state.weight
    if kind == "fix":
        return problem.fix_costs[number] * state.weight + follow(after_fix(problem, state, number))
    return problem.question_costs[number] * state.weight + sum(follow(s) for s in after_answers(problem, state, number))


def moves(problem: TroubleshootingProblem, state: State) -> list[Move]:
    """All moves that are possible in a state."""
    asks = [("ask", q) for q in state.remaining("ask", len(problem.question_costs))]
    return [LAST_RESORT, *asks, *(("fix", f) for f in state.remaining("fix", len(problem.fix_costs)))]


def optimal_cost(problem: TroubleshootingProblem) -> float:
    """Least expected cost over all strategies, by dynamic programming; states with the same belief are one."""
    known: dict[object, float] = {}

    def value(state: State) -> float:
        key = (frozenset(state.history), frozenset((w, round(p, 13)) for w, p in state.belief.items()))
        if key not in known:
            known[key] = min(cost_of(problem, state, move, value) for move in moves(problem, state))
        return known[key]

    return value(start(problem))


def cost_of_policy(problem: TroubleshootingProblem, policy: Callable[[State], Move]) -> float:
    """Exact expected cost of a policy, over all answers and outcomes of fixes."""

    def value(state: State) -> float:
        return cost_of(problem, state, policy(state), value) if state.weight > 1e-15 else 0.0

    return value(start(problem))
