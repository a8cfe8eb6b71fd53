"""The strategies that are compared. Each is a function from a game to the next move; a fix it cannot do is passed over."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np

from nopost.advice.ranking import Ranked
from nopost.advice.step import StepKind
from nopost.belief.hypotheses import Floats
from nopost.trial.bench import SHOP, Bench, Kind, Move
from nopost.trial.chance import uniform
from nopost.trial.game import Game
from nopost.trial.strategy_entropy import sharpest_question
from nopost.trial.strategy_knowing import all_knowing

Strategy = Callable[[Game], Move]

KINDS = {StepKind.ASK: Kind.LOOK, StepKind.DO: Kind.DO, StepKind.SHOP: Kind.SHOP}


def advice(game: Game) -> Move:
    """Ours: what an assessment of all that is known advises."""

    def think() -> Move:
        step = game.bench.assessor.assess(game.seen, game.bench.person).advice.step
        return SHOP if step.kind is StepKind.SHOP else Move(KINDS[step.kind], step.id)

    return game.bench.remember("advice", game.seen, think)


def checklist(game: Game) -> Move:
    """The fixed list, entry by entry; given up for the shop once as much is spent as the shop takes."""
    if spent_enough(game):
        return SHOP
    latest = {r.finding: r.answer for r in game.seen.reports}
    for entry in game.bench.checklist:
        look, fix = Move(Kind.LOOK, entry.look), Move(Kind.DO, entry.do)
        if entry.look and entry.look not in latest:
            if game.is_possible(look):
                return look
            continue
        if entry.do and not is_done(game, entry.do) and (not entry.answers or latest[entry.look] in entry.answers):
            return fix
    return SHOP


def ratio(game: Game) -> Move:
    """Falling chance over cost, no questions; the shop counts as a fix that always helps (Heckerman, Breese & Rommelse 1995)."""
    return game.bench.remember("ratio", game.seen, lambda: best_ratio(game))


def best_ratio(game: Game) -> Move:
    """The fix of the greatest chance over cost, by the belief after the fixes that failed."""
    bench = game.bench
    chances = starting_mass(bench, bench.assessor.rank(game.seen)) @ bench.chances
    best, move = 1 / bench.shop, SHOP
    for k, fix in enumerate(bench.fixes):
        value = chances[k] / bench.cost[Move(Kind.DO, fix)]
        if value > best and not is_done(game, fix):
            best, move = value, Move(Kind.DO, fix)
    return move


def likeliest(game: Game) -> Move:
    """The most probable cause first, each with the fixes that help it best; no questions."""
    return SHOP if spent_enough(game) else game.bench.remember("likeliest", game.seen, lambda: _likeliest(game))


def _likeliest(game: Game) -> Move:
    bench = game.bench
    mass = starting_mass(bench, bench.assessor.rank(game.seen))
    for k in np.argsort(-mass, kind="stable"):
        fixes = bench.knowledge.causes[bench.model.h.causes[k]].fixes
        for fix in sorted(fixes, key=lambda name: (-fixes[name], name)):
            if not is_done(game, fix):
                return Move(Kind.DO, fix)
    return SHOP


def entropy(game: Game) -> Move:
    """The most telling question, whatever it costs, until none tells much; then the fix of the greatest chance over cost."""
    if spent_enough(game):
        return SHOP
    return game.bench.remember("entropy", game.seen, lambda: sharpest_question(game) or best_ratio(game))


def chance(game: Game) -> Move:
    """Any fix, at random."""
    open_ = [fix for fix in game.bench.fixes if not is_done(game, fix)]
    if not open_ or spent_enough(game):
        return SHOP
    luck = uniform(game.machine.seed, "any fix", len(game.seen.tried), len(game.seen.skipped))
    return Move(Kind.DO, open_[int(luck * len(open_))])


def starting_mass(bench: Bench, found: Ranked) -> Floats:
    """(C,) probability that each cause keeps the machine from starting now; of a pair, half each, as the advice counts it."""
    now = bench.model.now(found.posterior, found.evidence)
    return bench.model.h.marginals(now / np.maximum(bench.model.h.sizes, 1))


def is_done(game: Game, fix: str) -> bool:
    """Whether a fix was tried or passed over."""
    return fix in game.seen.tried or fix in game.seen.skipped


def spent_enough(game: Game) -> bool:
    """A person without advice stops when as much is spent as the shop takes."""
    return game.spent >= game.bench.shop


STRATEGIES: Mapping[str, tuple[Strategy, str]] = MappingProxyType(
    {
        "advice": (advice, "The advice"),
        "all-knowing": (all_knowing, "All-knowing"),
        "checklist": (checklist, "Fixed checklist"),
        "ratio": (ratio, "Chance over cost"),
        "likeliest": (likeliest, "Likeliest cause"),
        "entropy": (entropy, "Telling question"),
        "random": (chance, "Random fix"),
    }
)
"""Name -> the strategy and what it is called."""
