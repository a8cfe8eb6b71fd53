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
from nopost.diagnosis.diagnose import Ranked
from nopost.evaluation.episode import SHOP, Episode, EpisodeStep, Simulator, state_key
from nopost.evaluation.simulated_machine import uniform_by_name

RemainingCauses = tuple[str, ...]
MAX_FIXES = 10
"""So many fixes are compared, those of the greatest efficiency p/C."""


def oracle(episode: Episode) -> EpisodeStep:
    """The step of least expected cost; its fixes may fail."""
    return oracle_cost(episode.simulator, episode.machine.remaining, frozenset(episode.seen.tried))[1]


def oracle_cost(
    simulator: Simulator, remaining: RemainingCauses, done: frozenset[str] = frozenset()
) -> tuple[float, EpisodeStep]:
    """Least expected cost for causes that are known, and the step to make: dynamic programming over what remains and was
    done."""
    if not remaining:
        return 0.0, SHOP
    fixes = _useful_fixes(simulator, remaining)
    return simulator.cached(("known", remaining, done & {*fixes}), lambda: _cheapest_step(simulator, remaining, done, fixes))


def _cheapest_step(
    simulator: Simulator, remaining: RemainingCauses, done: frozenset[str], fixes: list[str]
) -> tuple[float, EpisodeStep]:
    best = (simulator.shop, SHOP)
    for fix in fixes:
        if fix not in done:
            later = sum(p * oracle_cost(simulator, then, done | {fix})[0] for then, p in _causes_after(simulator, remaining, fix))
            best = min(best, (simulator.price(EpisodeStep(StepKind.DO, fix)) + later, EpisodeStep(StepKind.DO, fix)))
    return best


def _useful_fixes(simulator: Simulator, remaining: RemainingCauses) -> list[str]:
    """The fixes that can mend something of what remains, and are not dearer than the shop."""
    return simulator.cached(("fixes", remaining), lambda: _most_efficient_fixes(simulator, remaining))


def _most_efficient_fixes(simulator: Simulator, remaining: RemainingCauses) -> list[str]:
    ratio = {}
    for fix in sorted({fix for cause in remaining for fix in simulator.knowledge.causes[cause].fixes}):
        price = simulator.price(EpisodeStep(StepKind.DO, fix))
        chance = 1 - sum(p for then, p in _causes_after(simulator, remaining, fix) if then == remaining)
        if price < simulator.shop and chance > 0:
            ratio[fix] = chance / price
    return sorted(ratio, key=lambda fix: (-ratio[fix], fix))[:MAX_FIXES]


def _causes_after(simulator: Simulator, remaining: RemainingCauses, fix: str) -> Iterator[tuple[RemainingCauses, float]]:
    """What may remain after a fix, with its probability."""
    stays = simulator.model.persistence([fix])
    for keeps in itertools.product((True, False), repeat=len(remaining)):
        p = 1.0
        for cause, keep in zip(remaining, keeps, strict=True):
            chance = float(stays[simulator.model.cause_index[cause]])
            p *= chance if keep else 1 - chance
        if p > 0:
            yield tuple(c for c, keep in zip(remaining, keeps, strict=True) if keep), p


Strategy = Callable[[Episode], EpisodeStep]


def follow_advice(episode: Episode) -> EpisodeStep:
    """The step that the engine advises by all that is known."""

    def compute() -> EpisodeStep:
        step = episode.simulator.diagnostician.assess(episode.seen, episode.simulator.person).advice.step
        return SHOP if step.kind is StepKind.LAST_RESORT else EpisodeStep(step.kind, step.id)

    return episode.simulator.cached(state_key("advice", episode.seen), compute)


def follow_checklist(episode: Episode) -> EpisodeStep:
    """The fixed list, entry by entry; given up for the shop once as much is spent as the shop takes."""
    if has_spent_shop_price(episode):
        return SHOP
    latest = {r.finding: r.answer for r in episode.seen.reports}
    for entry in episode.simulator.checklist:
        look, fix = EpisodeStep(StepKind.ASK, entry.look), EpisodeStep(StepKind.DO, entry.do)
        if entry.look and entry.look not in latest:
            if episode.is_possible(look):
                return look
            continue
        if (
            entry.do
            and not was_tried_or_skipped(episode, entry.do)
            and (not entry.answers or latest[entry.look] in entry.answers)
        ):
            return fix
    return SHOP


def greedy_by_efficiency(episode: Episode) -> EpisodeStep:
    """Greedy by efficiency p/C, the chance that a fix helps over its cost, without questions; the shop counts as a fix that
    always helps (Heckerman, Breese & Rommelse 1995)."""
    return episode.simulator.cached(state_key("ratio", episode.seen), lambda: most_efficient_fix(episode))


def most_efficient_fix(episode: Episode) -> EpisodeStep:
    """The fix of the greatest efficiency p/C, by the belief after the fixes that failed."""
    simulator = episode.simulator
    chances = blocking_probabilities(simulator, simulator.diagnostician.ranker.rank(episode.seen)) @ simulator.fix_chances
    best, step = 1 / simulator.shop, SHOP
    for k, fix in enumerate(simulator.fixes):
        value = chances[k] / simulator.cost[EpisodeStep(StepKind.DO, fix)]
        if value > best and not was_tried_or_skipped(episode, fix):
            best, step = value, EpisodeStep(StepKind.DO, fix)
    return step


def likeliest_cause_first(episode: Episode) -> EpisodeStep:
    """The most probable cause first, each with the fixes that help it best; no questions."""
    return (
        SHOP
        if has_spent_shop_price(episode)
        else episode.simulator.cached(state_key("likeliest", episode.seen), lambda: _best_fix_of_likeliest(episode))
    )


def _best_fix_of_likeliest(episode: Episode) -> EpisodeStep:
    simulator = episode.simulator
    mass = blocking_probabilities(simulator, simulator.diagnostician.ranker.rank(episode.seen))
    for k in np.argsort(-mass, kind="stable"):
        fixes = simulator.knowledge.causes[simulator.model.hypotheses.causes[k]].fixes
        for fix in sorted(fixes, key=lambda name: (-fixes[name], name)):
            if not was_tried_or_skipped(episode, fix):
                return EpisodeStep(StepKind.DO, fix)
    return SHOP


def random_fix(episode: Episode) -> EpisodeStep:
    """Any fix, at random."""
    open_ = [fix for fix in episode.simulator.fixes if not was_tried_or_skipped(episode, fix)]
    if not open_ or has_spent_shop_price(episode):
        return SHOP
    luck = uniform_by_name(episode.machine.seed, "any fix", len(episode.seen.tried), len(episode.seen.skipped))
    return EpisodeStep(StepKind.DO, open_[int(luck * len(open_))])


def blocking_probabilities(simulator: Simulator, found: Ranked) -> Floats:
    """(C,) probability that each cause keeps the machine from starting now; of a pair, half each, as the advice counts it."""
    now = simulator.model.current_posterior(found.posterior, found.evidence)
    return simulator.model.hypotheses.marginals(now / np.maximum(simulator.model.hypotheses.sizes, 1))


def was_tried_or_skipped(episode: Episode, fix: str) -> bool:
    """Whether a fix was tried or passed over."""
    return fix in episode.seen.tried or fix in episode.seen.skipped


def has_spent_shop_price(episode: Episode) -> bool:
    """A person without advice stops when as much is spent as the shop takes."""
    return episode.spent >= episode.simulator.shop


STRATEGIES: Mapping[str, tuple[Strategy, str]] = MappingProxyType(
    {
        "advice": (follow_advice, "The advice"),
        "oracle": (oracle, "Oracle"),
        "checklist": (follow_checklist, "Fixed checklist"),
        "ratio": (greedy_by_efficiency, "Greedy by efficiency"),
        "likeliest": (likeliest_cause_first, "Likeliest cause"),
        "random": (random_fix, "Random fix"),
    }
)
"""Name -> the strategy and what it is called."""
