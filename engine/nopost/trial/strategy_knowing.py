"""The all-knowing strategy: it knows the causes, so it only chooses the cheapest way to be rid of them, or the shop.

It minds no conditions, so no strategy can expect to do better: a lower bound.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from nopost.trial.bench import SHOP, Bench, Kind, Move
from nopost.trial.game import Game

Left = tuple[str, ...]
MOST = 10
"""So many fixes are compared, those of the greatest chance over cost."""


def all_knowing(game: Game) -> Move:
    """The move of least expected cost; its fixes may fail."""
    return expected(game.bench, game.machine.left, frozenset(game.seen.tried))[1]


def expected(bench: Bench, left: Left, done: frozenset[str] = frozenset()) -> tuple[float, Move]:
    """Least expected cost for causes that are known, and the move to make: dynamic programming over what is left and was done."""
    if not left:
        return 0.0, SHOP
    fixes = _fixes(bench, left)
    return bench.recall(("known", left, done & {*fixes}), lambda: _cheapest(bench, left, done, fixes))


def _cheapest(bench: Bench, left: Left, done: frozenset[str], fixes: list[str]) -> tuple[float, Move]:
    best = (bench.shop, SHOP)
    for fix in fixes:
        if fix not in done:
            later = sum(p * expected(bench, then, done | {fix})[0] for then, p in _after(bench, left, fix))
            best = min(best, (bench.price(Move(Kind.DO, fix)) + later, Move(Kind.DO, fix)))
    return best


def _fixes(bench: Bench, left: Left) -> list[str]:
    """The fixes that can mend something of what is left, and are not dearer than the shop."""
    return bench.recall(("fixes", left), lambda: _promising(bench, left))


def _promising(bench: Bench, left: Left) -> list[str]:
    ratio = {}
    for fix in sorted({fix for cause in left for fix in bench.knowledge.causes[cause].fixes}):
        price = bench.price(Move(Kind.DO, fix))
        chance = 1 - sum(p for then, p in _after(bench, left, fix) if then == left)
        if price < bench.shop and chance > 0:
            ratio[fix] = chance / price
    return sorted(ratio, key=lambda fix: (-ratio[fix], fix))[:MOST]


def _after(bench: Bench, left: Left, fix: str) -> Iterator[tuple[Left, float]]:
    """What may be left after a fix, with its probability."""
    stays = bench.model.left([fix])
    for keeps in itertools.product((True, False), repeat=len(left)):
        p = 1.0
        for cause, keep in zip(left, keeps, strict=True):
            chance = float(stays[bench.model.index[cause]])
            p *= chance if keep else 1 - chance
        if p > 0:
            yield tuple(c for c, keep in zip(left, keeps, strict=True) if keep), p
