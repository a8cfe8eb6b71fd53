"""The strategies that are compared. Each is a function from an episode to its next step; a fix it cannot do is passed over.

Besides the advice there are the oracle, the fixed checklist, the greedy order by efficiency (Heckerman, Breese & Rommelse 1995),
the likeliest cause first, and chance. The oracle knows the causes, so it only chooses the cheapest way to be rid of them, or the
shop. It minds no conditions, so no strategy can expect to do better: a lower bound.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType

import numpy as np

from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.ranking import Ranked
from nopost.evaluation.episode import SHOP, Episode, EpisodeStep, EpisodeStepKind, Simulator
from nopost.evaluation.simulated_machine import uniform_by_name

SURE = 0.8
"""From this probability of one cause on nothing more is asked (judgement)."""
LEAST_BITS = 0.05
"""A question that is expected to tell less is not asked (judgement)."""
NEGLIGIBLE = 1e-5


def least_entropy_question(game: Episode) -> EpisodeStep | None:
    """The question on offer with the least expected entropy; None when one cause stands out or nothing tells much."""
    bench = game.bench
    found = bench.assessor.ranker.rank(game.seen)
    if found.ranking[0][1] >= SURE:
        return None
    now = bench.model.current_posterior(found.posterior, found.evidence)
    kept = np.flatnonzero(now > NEGLIGIBLE)
    best, move = entropy_bits(now[kept]) - LEAST_BITS, None
    for finding in game.offers().questions():
        if finding.id in bench.model.informative_findings:
            joint = now[kept, None] * bench.model.predict_from_current_faults(finding.id, found.evidence)[kept]
            left = entropy_bits(joint) - entropy_bits(joint.sum(axis=0))
            if left < best:
                best, move = left, EpisodeStep(EpisodeStepKind.LOOK, finding.id)
    return move


def entropy_bits(masses: Floats) -> float:
    """Entropy of masses that sum to 1, in bits."""
    positive = masses[masses > 0]
    return float(-(positive * np.log2(positive)).sum())


CausesLeft = tuple[str, ...]
MAX_FIXES = 10
"""So many fixes are compared, those of the greatest chance over cost."""


def oracle(game: Episode) -> EpisodeStep:
    """The move of least expected cost; its fixes may fail."""
    return oracle_cost(game.bench, game.machine.left, frozenset(game.seen.tried))[1]


def oracle_cost(bench: Simulator, left: CausesLeft, done: frozenset[str] = frozenset()) -> tuple[float, EpisodeStep]:
    """Least expected cost for causes that are known, and the move to make: dynamic programming over what is left and was done."""
    if not left:
        return 0.0, SHOP
    fixes = _useful_fixes(bench, left)
    return bench.recall(("known", left, done & {*fixes}), lambda: _cheapest_step(bench, left, done, fixes))


def _cheapest_step(bench: Simulator, left: CausesLeft, done: frozenset[str], fixes: list[str]) -> tuple[float, EpisodeStep]:
    best = (bench.shop, SHOP)
    for fix in fixes:
        if fix not in done:
            later = sum(p * oracle_cost(bench, then, done | {fix})[0] for then, p in _causes_after(bench, left, fix))
            best = min(best, (bench.price(EpisodeStep(EpisodeStepKind.DO, fix)) + later, EpisodeStep(EpisodeStepKind.DO, fix)))
    return best


def _useful_fixes(bench: Simulator, left: CausesLeft) -> list[str]:
    """The fixes that can mend something of what is left, and are not dearer than the shop."""
    return bench.recall(("fixes", left), lambda: _most_efficient_fixes(bench, left))


def _most_efficient_fixes(bench: Simulator, left: CausesLeft) -> list[str]:
    ratio = {}
    for fix in sorted({fix for cause in left for fix in bench.knowledge.causes[cause].fixes}):
        price = bench.price(EpisodeStep(EpisodeStepKind.DO, fix))
        chance = 1 - sum(p for then, p in _causes_after(bench, left, fix) if then == left)
        if price < bench.shop and chance > 0:
            ratio[fix] = chance / price
    return sorted(ratio, key=lambda fix: (-ratio[fix], fix))[:MAX_FIXES]


def _causes_after(bench: Simulator, left: CausesLeft, fix: str) -> Iterator[tuple[CausesLeft, float]]:
    """What may be left after a fix, with its probability."""
    stays = bench.model.persistence([fix])
    for keeps in itertools.product((True, False), repeat=len(left)):
        p = 1.0
        for cause, keep in zip(left, keeps, strict=True):
            chance = float(stays[bench.model.cause_index[cause]])
            p *= chance if keep else 1 - chance
        if p > 0:
            yield tuple(c for c, keep in zip(left, keeps, strict=True) if keep), p


Strategy = Callable[[Episode], EpisodeStep]

KIND_OF_STEP = {
    StepKind.ASK: EpisodeStepKind.LOOK,
    StepKind.DO: EpisodeStepKind.DO,
    StepKind.LAST_RESORT: EpisodeStepKind.SHOP,
}


def follow_advice(game: Episode) -> EpisodeStep:
    """Ours: what an assessment of all that is known advises."""

    def think() -> EpisodeStep:
        step = game.bench.assessor.assess(game.seen, game.bench.person).advice.step
        return SHOP if step.kind is StepKind.LAST_RESORT else EpisodeStep(KIND_OF_STEP[step.kind], step.id)

    return game.bench.remember("advice", game.seen, think)


def follow_checklist(game: Episode) -> EpisodeStep:
    """The fixed list, entry by entry; given up for the shop once as much is spent as the shop takes."""
    if has_spent_shop_price(game):
        return SHOP
    latest = {r.finding: r.answer for r in game.seen.reports}
    for entry in game.bench.checklist:
        look, fix = EpisodeStep(EpisodeStepKind.LOOK, entry.look), EpisodeStep(EpisodeStepKind.DO, entry.do)
        if entry.look and entry.look not in latest:
            if game.is_possible(look):
                return look
            continue
        if entry.do and not was_tried_or_skipped(game, entry.do) and (not entry.answers or latest[entry.look] in entry.answers):
            return fix
    return SHOP


def greedy_by_efficiency(game: Episode) -> EpisodeStep:
    """Falling chance over cost, no questions; the shop counts as a fix that always helps (Heckerman, Breese & Rommelse 1995)."""
    return game.bench.remember("ratio", game.seen, lambda: most_efficient_fix(game))


def most_efficient_fix(game: Episode) -> EpisodeStep:
    """The fix of the greatest chance over cost, by the belief after the fixes that failed."""
    bench = game.bench
    chances = blocking_probabilities(bench, bench.assessor.ranker.rank(game.seen)) @ bench.chances
    best, move = 1 / bench.shop, SHOP
    for k, fix in enumerate(bench.fixes):
        value = chances[k] / bench.cost[EpisodeStep(EpisodeStepKind.DO, fix)]
        if value > best and not was_tried_or_skipped(game, fix):
            best, move = value, EpisodeStep(EpisodeStepKind.DO, fix)
    return move


def likeliest_cause_first(game: Episode) -> EpisodeStep:
    """The most probable cause first, each with the fixes that help it best; no questions."""
    return (
        SHOP if has_spent_shop_price(game) else game.bench.remember("likeliest", game.seen, lambda: _best_fix_of_likeliest(game))
    )


def _best_fix_of_likeliest(game: Episode) -> EpisodeStep:
    bench = game.bench
    mass = blocking_probabilities(bench, bench.assessor.ranker.rank(game.seen))
    for k in np.argsort(-mass, kind="stable"):
        fixes = bench.knowledge.causes[bench.model.hypotheses.causes[k]].fixes
        for fix in sorted(fixes, key=lambda name: (-fixes[name], name)):
            if not was_tried_or_skipped(game, fix):
                return EpisodeStep(EpisodeStepKind.DO, fix)
    return SHOP


def greedy_by_entropy(game: Episode) -> EpisodeStep:
    """The most telling question, whatever it costs, until none tells much; then the fix of the greatest chance over cost."""
    if has_spent_shop_price(game):
        return SHOP
    return game.bench.remember("entropy", game.seen, lambda: least_entropy_question(game) or most_efficient_fix(game))


def random_fix(game: Episode) -> EpisodeStep:
    """Any fix, at random."""
    open_ = [fix for fix in game.bench.fixes if not was_tried_or_skipped(game, fix)]
    if not open_ or has_spent_shop_price(game):
        return SHOP
    luck = uniform_by_name(game.machine.seed, "any fix", len(game.seen.tried), len(game.seen.skipped))
    return EpisodeStep(EpisodeStepKind.DO, open_[int(luck * len(open_))])


def blocking_probabilities(bench: Simulator, found: Ranked) -> Floats:
    """(C,) probability that each cause keeps the machine from starting now; of a pair, half each, as the advice counts it."""
    now = bench.model.current_posterior(found.posterior, found.evidence)
    return bench.model.hypotheses.marginals(now / np.maximum(bench.model.hypotheses.sizes, 1))


def was_tried_or_skipped(game: Episode, fix: str) -> bool:
    """Whether a fix was tried or passed over."""
    return fix in game.seen.tried or fix in game.seen.skipped


def has_spent_shop_price(game: Episode) -> bool:
    """A person without advice stops when as much is spent as the shop takes."""
    return game.spent >= game.bench.shop


STRATEGIES: Mapping[str, tuple[Strategy, str]] = MappingProxyType(
    {
        "advice": (follow_advice, "The advice"),
        "all-knowing": (oracle, "All-knowing"),
        "checklist": (follow_checklist, "Fixed checklist"),
        "ratio": (greedy_by_efficiency, "Chance over cost"),
        "likeliest": (likeliest_cause_first, "Likeliest cause"),
        "entropy": (greedy_by_entropy, "Telling question"),
        "random": (random_fix, "Random fix"),
    }
)
"""Name -> the strategy and what it is called."""
