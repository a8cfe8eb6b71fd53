"""Causes that nothing can tell apart, that show the very same or that no fix can repair, and weights that do not fit."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from nopost.diagnosis.belief.expected_weight import PairwiseWeights, pairwise_weights_when_asked
from nopost.knowledge import model as m
from nopost.linting.lint_context import ItemProblem, LintContext

LEAST_LOOK = 3.0
"""Decibans that the best single look must be expected to give between two causes: 3 make odds of two to one. With less no one
answer is worth more than a first hunch (judgement; Good calls one deciban the least that a person notices)."""
LEAST_TOGETHER = 10.0
"""Decibans that all looks together must be expected to give: 10 make odds of ten to one (judgement)."""
SERVES_BOTH = 0.5
"""One fix serves two causes when for each it has this share of the chance of that cause's best fix (judgement): a shop that
cannot tell them apart does this fix and loses little."""
MACHINES_IN_ALL = 1000.0
"""Weights are of a thousand machines that do not start (DEVELOPERS.md, and the schema)."""
SUM_SLACK = 0.2
"""How far their sum may be from that: a fifth, so that a few causes more are no matter (judgement)."""
LARGEST_SHARE, LEAST_SHARE = 0.2, 0.0005
"""Share of one cause in the sum: more than a fifth is a group that should be split; less than one in two thousand, even
after the story that speaks most for it, is never asked about (judgement)."""
ENOUGH_CAUSES = 10
"""With fewer causes than this, shares say nothing."""


def cause_twins(view: LintContext) -> Iterator[ItemProblem]:
    """Each pair that is treated differently can be told apart."""
    weights = pairwise_weights_when_asked(view.belief, view.reach.asked)
    close = (weights.best_decibans < LEAST_LOOK) | (weights.total_decibans < LEAST_TOGETHER)
    causes = view.knowledge.causes
    for one, other in combinations(causes, 2):
        if close[weights.cause_index[one], weights.cause_index[other]] and not one_fix_serves(causes[one], causes[other]):
            yield _twin_problem(view, weights, one, other)


def shows_twice(view: LintContext) -> Iterator[ItemProblem]:
    """No cause is a copy whose signs were not changed yet; twins that are mended differently are told of as twins."""
    for one, other in combinations(view.knowledge.causes.values(), 2):
        if one.shows == other.shows and one_fix_serves(one, other):
            message, hint = f"shows the very same as {one.id}", "change what differs with it, or make one cause of the two"
            yield view.remark("causes", other.id, ("shows",), "shows-twice", message, hint, (f"causes/{one.id}",))


def no_open_fix(view: LintContext) -> Iterator[ItemProblem]:
    """Each cause has a fix that can be offered one day."""
    for cause in view.knowledge.causes.values():
        if not any(fix in view.reach.done for fix in cause.fixes):
            message = f"none of its fixes can ever be offered: {', '.join(cause.fixes)}"
            yield view.remark("causes", cause.id, ("fixes",), "no-open-fix", message, "name another fix, or open one of them")


def weight_sum(view: LintContext) -> Iterator[ItemProblem]:
    """The weights add up to about a thousand."""
    total = sum(cause.weight for cause in view.knowledge.causes.values())
    if len(view.knowledge.causes) >= ENOUGH_CAUSES and abs(total - MACHINES_IN_ALL) > SUM_SLACK * MACHINES_IN_ALL:
        message = f"the weights of all causes add up to {total:g}; they are meant to be of a thousand machines"
        yield view.remark("", "", (), "weight-sum", message, f"multiply each by {MACHINES_IN_ALL / total:.3g}")


def weight_shares(view: LintContext) -> Iterator[ItemProblem]:
    """No cause has most of the weight, or next to none."""
    causes = view.knowledge.causes.values()
    total = sum(cause.weight for cause in causes)
    for cause in causes if len(causes) >= ENOUGH_CAUSES else ():
        share = cause.weight / total
        if share > LARGEST_SHARE or share * _largest_history_ratio(view, cause) < LEAST_SHARE:
            message = f"weight {cause.weight:g} is {share:.2%} of all causes together"
            hint = "split the cause" if share > LARGEST_SHARE else "join it to a cause that is mended alike, or raise it"
            yield view.remark("causes", cause.id, ("weight",), "weight-share", message, hint)


CAUSE_CHECKS = (cause_twins, shows_twice, no_open_fix, weight_sum, weight_shares)


def _largest_history_ratio(view: LintContext, cause: m.Cause) -> float:
    """How many times likelier the one answer makes it that speaks most for it, of those to what happened before."""
    histories = (shown for name, shown in cause.shows.items() if view.knowledge.findings[name].combine is m.Combine.HISTORY)
    return max((max(shown.values()) for shown in histories), default=1.0)


def one_fix_serves(one: m.Cause, other: m.Cause) -> bool:
    """Whether some fix is nearly as good as the best for each of two causes."""
    tops = max(one.fixes.values()), max(other.fixes.values())
    chances = ((one.fixes[fix], other.fixes[fix]) for fix in one.fixes.keys() & other.fixes.keys())
    return any(a >= SERVES_BOTH * tops[0] and b >= SERVES_BOTH * tops[1] for a, b in chances)


def _twin_problem(view: LintContext, weights: PairwiseWeights, one: str, other: str) -> ItemProblem:
    place = weights.cause_index[one], weights.cause_index[other]
    discriminator = weights.best_discriminator(one, other)
    if discriminator:
        comes = f"{discriminator} comes nearest with {weights.best_decibans[place]:.1f} decibans"
        message = f"hardly told from {other}: {comes}; all looks together give {weights.total_decibans[place]:.1f}"
        hint = f"let {discriminator} differ more where the trade knows it does, or add a finding that differs"
    else:
        message, hint = f"nothing tells it from {other}", "add a finding that differs between them"
    return view.remark("causes", one, ("shows",), "cause-twins", message, hint, (f"causes/{other}",))
