"""The exact optimum of small troubleshooting problems, written on its own: it shares no code with the engine.

A world is the set of causes that are there now. A strategy's state is what was asked and done so far and the unnormalised
probability of each world in which the machine is still dead. A fix removes each of its causes on its own; an answer weighs
worlds.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

World = frozenset[int]
Belief = dict[World, float]
Move = tuple[str, int]
"""("ask", question), ("fix", fix) or ("shop", 0)."""
LAST_RESORT: Move = ("shop", 0)


@dataclass(frozen=True)
class TroubleshootingProblem:
    """A dead machine: `prior` of each world; P(answer | world) per question; chance per fix and cause; what things cost."""

    prior: Mapping[World, float]
    answer_tables: Sequence[Mapping[World, Sequence[float]]]
    question_costs: Sequence[float]
    repair_probability: Sequence[Mapping[int, float]]
    fix_costs: Sequence[float]
    last_resort_cost: float


@dataclass(frozen=True)
class State:
    """What was learned: (question, answer) or (fix, -1) in order, and the belief it leaves."""

    history: tuple[tuple[Move, int], ...]
    belief: Belief

    @property
    def weight(self) -> float:
        """Probability of coming here."""
        return sum(self.belief.values())

    def remaining(self, kind: str, count: int) -> list[int]:
        """Questions not asked or fixes not done yet."""
        done = {number for (what, number), _ in self.history if what == kind}
        return [k for k in range(count) if k not in done]


def after_fix(trouble: TroubleshootingProblem, state: State, fix: int) -> State:
    """Still dead after a fix."""
    belief: Belief = {}
    for world, weight in state.belief.items():
        for world_now, share in _survivors(sorted(world), trouble.repair_probability[fix]):
            if world_now or not world:
                belief[world_now] = belief.get(world_now, 0.0) + weight * share
    return State((*state.history, (("fix", fix), -1)), belief)


def _survivors(causes: Sequence[int], chance: Mapping[int, float]) -> list[tuple[World, float]]:
    result = []
    for stays in itertools.product((True, False), repeat=len(causes)):
        share = 1.0
        for cause, stay in zip(causes, stays, strict=True):
            share *= 1 - chance.get(cause, 0.0) if stay else chance.get(cause, 0.0)
        result.append((frozenset(c for c, stay in zip(causes, stays, strict=True) if stay), share))
    return result


def after_answers(trouble: TroubleshootingProblem, state: State, question: int) -> list[State]:
    """One state for each answer."""
    table = trouble.answer_tables[question]
    answers = range(len(next(iter(table.values()))))
    return [
        State((*state.history, (("ask", question), a)), {w: weight * table[w][a] for w, weight in state.belief.items()})
        for a in answers
    ]


def start(trouble: TroubleshootingProblem) -> State:
    """Nothing asked, nothing done."""
    return State((), dict(trouble.prior))


def cost_of(trouble: TroubleshootingProblem, state: State, move: Move, follow: Callable[[State], float]) -> float:
    """Expected cost of a move and all that follows, times the probability of the state."""
    kind, number = move
    if kind == "shop":
        return trouble.last_resort_cost * state.weight
    if kind == "fix":
        return trouble.fix_costs[number] * state.weight + follow(after_fix(trouble, state, number))
    return trouble.question_costs[number] * state.weight + sum(follow(s) for s in after_answers(trouble, state, number))


def moves(trouble: TroubleshootingProblem, state: State) -> list[Move]:
    """All that can be done."""
    asks = [("ask", q) for q in state.remaining("ask", len(trouble.question_costs))]
    return [LAST_RESORT, *asks, *(("fix", f) for f in state.remaining("fix", len(trouble.fix_costs)))]


def optimal_cost(trouble: TroubleshootingProblem) -> float:
    """Least expected cost over all strategies, by dynamic programming; states with the same belief are one."""
    known: dict[object, float] = {}

    def value(state: State) -> float:
        rounded = tuple(sorted((tuple(sorted(w)), round(p, 13)) for w, p in state.belief.items()))
        key = (frozenset(state.history), rounded)
        if key not in known:
            known[key] = min(cost_of(trouble, state, move, value) for move in moves(trouble, state))
        return known[key]

    return value(start(trouble))


def cost_of_policy(trouble: TroubleshootingProblem, policy: Callable[[State], Move]) -> float:
    """Exact expected cost of a policy, over all answers and outcomes of fixes."""

    def value(state: State) -> float:
        return cost_of(trouble, state, policy(state), value) if state.weight > 1e-15 else 0.0

    return value(start(trouble))
