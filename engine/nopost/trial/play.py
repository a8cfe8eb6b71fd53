"""Play one strategy to the end on one machine, and what it took."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nopost.knowledge.model import ABSENT
from nopost.trial.bench import SHOP, Bench, Kind, Move
from nopost.trial.game import Game
from nopost.trial.machine import DeadMachine
from nopost.trial.strategies import STRATEGIES

MOST_STEPS = 80
"""After so many steps it goes to the shop, whatever the strategy says."""


@dataclass(frozen=True, slots=True)
class Play:
    """One strategy on one machine. Costs are money; they add up to `effort`.

    `asking`: looks and tests; `wrong`: fixes that could mend nothing that was there; `right`: the other fixes; `shop`.
    `wrong_fixes`: how many; `dangers`: the moves that carry a risk of damage; `forbidden`: moves with power although a sign
    of danger, truly there, forbids it. `rank`: place of the best-placed cause that was left before the end (from 1).
    """

    machine: int
    strategy: str
    causes: tuple[str, ...]
    repaired: bool
    effort: float
    asking: float
    wrong: float
    right: float
    shop: float
    questions: int
    fixes: int
    wrong_fixes: int
    dangers: tuple[str, ...]
    forbidden: int
    rank: int


def play(bench: Bench, name: str, machine: DeadMachine, number: int = 0) -> Play:
    """Play to the end: the machine starts, or it goes to the shop."""
    strategy = STRATEGIES[name][0]
    game, left = Game(bench, machine), [machine.left]
    forbids, forbidden = must_stay_off(bench, machine), 0
    while not machine.starts and (not game.moves or game.moves[-1][0] != SHOP):
        move = strategy(game) if len(game.moves) < MOST_STEPS else SHOP
        if move.kind is Kind.DO and name not in MINDS_CONDITIONS and not game.is_possible(move):
            game.skip(move)
            continue
        forbidden += forbids and move is not SHOP and bench.item(move).powered
        game.make(move)
        left.append(machine.left)
    return _play(game, name, number, left, forbidden)


MINDS_CONDITIONS = frozenset({"advice", "all-knowing"})
"""The advice chooses among what is possible as far as it knows; the bound minds nothing."""


def _play(game: Game, name: str, number: int, left: Sequence[tuple[str, ...]], forbidden: int) -> Play:
    bench, machine = game.bench, game.machine
    cost = {"asking": 0.0, "wrong": 0.0, "right": 0.0, "shop": 0.0}
    count = dict.fromkeys(cost, 0)
    for (move, _), before in zip(game.moves, left, strict=False):
        what = _what(bench, move, before)
        cost[what] += bench.price(move)
        count[what] += 1
    return Play(
        machine=number,
        strategy=name,
        causes=machine.causes,
        repaired=machine.starts,
        effort=game.spent,
        **cost,
        questions=count["asking"],
        fixes=count["wrong"] + count["right"],
        wrong_fixes=count["wrong"],
        dangers=tuple(move.id for move, _ in game.moves if bench.is_dangerous(move)),
        forbidden=forbidden,
        rank=1 if name == "all-knowing" else _rank(game, left[-2] if len(left) > 1 else left[-1]),
    )


def _what(bench: Bench, move: Move, left: tuple[str, ...]) -> str:
    """What a move's cost was spent on, given the causes that were left before it."""
    if move.kind is Kind.SHOP:
        return "shop"
    if move.kind is Kind.LOOK:
        return "asking"
    return "right" if bench.mending[move.id] & {*left} else "wrong"


def _rank(game: Game, left: tuple[str, ...]) -> int:
    """Place of the best-placed true cause in the belief at the end; after the fix that made it start, among what that mends."""
    bench = game.bench
    believed = bench.assessor.rank(game.seen).ranking
    if game.machine.starts:
        fix = game.moves[-1][0].id
        weighed = [(cause, p * bench.knowledge.causes[cause].fixes.get(fix, 0.0)) for cause, p in believed]
        believed = tuple(sorted(weighed, key=lambda pair: (-pair[1], pair[0])))
    places = [k for k, (cause, _) in enumerate(believed, start=1) if cause in left]
    return min(places, default=0)


def must_stay_off(bench: Bench, machine: DeadMachine) -> bool:
    """Whether what is truly to be seen raises a hazard under which nothing that needs power is done."""
    answers = {name: machine.true_answer(name) for name in bench.knowledge.base.opening if machine.can_be_seen(name)}
    return bench.stops(bench.outcome({name: a for name, a in answers.items() if a != ABSENT}, machine.facts))
