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
SHOP: Move = ("shop", 0)


@dataclass(frozen=True)
class Trouble:
    """A dead machine: `prior` of each world; P(answer | world) per question; chance per fix and cause; what things cost."""

    prior: Mapping[World, float]
    tables: Sequence[Mapping[World, Sequence[float]]]
    ask: Sequence[float]
    chance: Sequence[Mapping[int, float]]
    fix: Sequence[float]
    shop: float


@dataclass(frozen=True)
class State:
    """What was learned: (question, answer) or (fix, -1) in order, and the belief it leaves."""

    history: tuple[tuple[Move, int], ...]
    belief: Belief

    @property
    def weight(self) -> float:
        """Probability of coming here."""
        return sum(self.belief.values())

    def left(self, kind: str, count: int) -> list[int]:
        """Questions not asked or fixes not done yet."""
        done = {number for (what, number), _ in self.history if what == kind}
        return [k for k in range(count) if k not in done]


def after_fix(trouble: Trouble, state: State, fix: int) -> State:
    """Still dead after a fix."""
    belief: Belief = {}
    for world, weight in state.belief.items():
        for world_now, share in _survivors(sorted(world), trouble.chance[fix]):
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


def after_answers(trouble: Trouble, state: State, question: int) -> list[State]:
    """One state for each answer."""
    table = trouble.tables[question]
    answers = range(len(next(iter(table.values()))))
    return [
        State((*state.history, (("ask", question), a)), {w: weight * table[w][a] for w, weight in state.belief.items()})
        for a in answers
    ]


def start(trouble: Trouble) -> State:
    """Nothing asked, nothing done."""
    return State((), dict(trouble.prior))


def cost_of(trouble: Trouble, state: State, move: Move, follow: Callable[[State], float]) -> float:
    """Expected cost of a move and all that follows, times the probability of the state."""
    kind, number = move
    if kind == "shop":
        return trouble.shop * state.weight
    if kind == "fix":
        return trouble.fix[number] * state.weight + follow(after_fix(trouble, state, number))
    return trouble.ask[number] * state.weight + sum(follow(s) for s in after_answers(trouble, state, number))


def moves(trouble: Trouble, state: State) -> list[Move]:
    """All that can be done."""
    asks = [("ask", q) for q in state.left("ask", len(trouble.ask))]
    return [SHOP, *asks, *(("fix", f) for f in state.left("fix", len(trouble.fix)))]


def optimum(trouble: Trouble) -> float:
    """Least expected cost over all strategies, by dynamic programming; states with the same belief are one."""
    known: dict[object, float] = {}

    def value(state: State) -> float:
        rounded = tuple(sorted((tuple(sorted(w)), round(p, 13)) for w, p in state.belief.items()))
        key = (frozenset(state.history), rounded)
        if key not in known:
            known[key] = min(cost_of(trouble, state, move, value) for move in moves(trouble, state))
        return known[key]

    return value(start(trouble))


def played(trouble: Trouble, policy: Callable[[State], Move]) -> float:
    """Exact expected cost of a policy, over all answers and outcomes of fixes."""

    def value(state: State) -> float:
        return cost_of(trouble, state, policy(state), value) if state.weight > 1e-15 else 0.0

    return value(start(trouble))
