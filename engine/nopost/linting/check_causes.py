"""Causes that nothing can tell apart, that show the very same or that no fix can repair, and weights that do not fit."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import TYPE_CHECKING

from nopost.knowledge import model as m
from nopost.knowledge.problem import Problem, ProblemCode, Severity
from nopost.linting.lint_check import Check

if TYPE_CHECKING:  # numpy and the belief are loaded only when the check of twins runs
    from nopost.diagnosis.belief.expected_weight import PairwiseWeights

LEAST_LOOK = 3.0
"""Decibans that the best single look must be expected to give between two causes: 3 make odds of two to one. With less no one
answer is worth more than a first hunch (judgement; Good calls one deciban the least that a person notices)."""
LEAST_TOGETHER = 10.0
"""Decibans that all looks together must be expected to give: 10 make odds of ten to one (judgement)."""
SERVES_BOTH = 0.5
"""One fix serves two causes when for each it has this share of the chance of that cause's best fix (judgement): a shop that
cannot tell them apart does this fix and loses little."""
MACHINES_IN_ALL = 1000.0
"""Weights are of a thousand machines that do not start (cli/manual/knowledge.md, and the schema)."""
SUM_SLACK = 0.2
"""How far their sum may be from that: a fifth, so that a few causes more are no matter (judgement)."""
LARGEST_SHARE, LEAST_SHARE = 0.2, 0.0005
"""Share of one cause in the sum: more than a fifth is a group that should be split; less than one in two thousand, even
after the story that speaks most for it, is never asked about (judgement)."""
ENOUGH_CAUSES = 10
"""With fewer causes than this, shares say nothing."""


class CauseTwins(Check):
    """Each pair that is treated differently can be told apart."""

    code = ProblemCode(
        "cause-twins",
        "Two causes that are mended differently and that nothing tells apart",
        "Expected weight of evidence: under 3 decibans (two to one) in the best look, or under 10 in all together.",
        "Give the finding that is named more different numbers where the trade knows them, or add a finding that differs.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        from nopost.diagnosis.belief.expected_weight import pairwise_weights_when_asked

        weights = pairwise_weights_when_asked(self.context.belief, self.context.reach.asked)
        close = (weights.best_decibans < LEAST_LOOK) | (weights.total_decibans < LEAST_TOGETHER)
        causes = self.knowledge.causes
        for one, other in combinations(causes, 2):
            if close[weights.cause_index[one], weights.cause_index[other]] and not one_fix_serves(causes[one], causes[other]):
                yield self._twins(weights, one, other)

    def _twins(self, weights: PairwiseWeights, one: str, other: str) -> Problem:
        place = weights.cause_index[one], weights.cause_index[other]
        discriminator = weights.best_discriminator(one, other)
        if discriminator:
            comes = f"{discriminator} comes nearest with {weights.best_decibans[place]:.1f} decibans"
            message = f"hardly told from {other}: {comes}; all looks together give {weights.total_decibans[place]:.1f}"
            hint = f"let {discriminator} differ more where the trade knows it does, or add a finding that differs"
        else:
            message, hint = f"nothing tells it from {other}", "add a finding that differs between them"
        return self.problem("causes", one, ("shows",), message, hint, (f"causes/{other}",))


class ShowsTwice(Check):
    """No cause is a copy whose signs were not changed yet; twins that are mended differently are told of as twins."""

    code = ProblemCode(
        "shows-twice",
        "Two causes that show the very same",
        "Mostly one was copied and its numbers not changed yet. The two share one chance, and no answer can part them.",
        "Change what differs with it; or make one cause of the two, when one fix serves both.",
    )

    def run(self) -> Iterator[Problem]:
        for one, other in combinations(self.knowledge.causes.values(), 2):
            if (one.shows, one.shows_given) == (other.shows, other.shows_given) and one_fix_serves(one, other):
                message, hint = f"shows the very same as {one.id}", "change what differs with it, or make one cause of the two"
                yield self.problem("causes", other.id, ("shows",), message, hint, (f"causes/{one.id}",))


class NoOpenFix(Check):
    """Each cause has a fix that can be offered one day."""

    code = ProblemCode(
        "no-open-fix",
        "A cause that is found and cannot be mended",
        "None of its fixes can ever be offered, so all that is left is the workshop.",
        "Name another fix, or correct the when of one of them.",
    )

    def run(self) -> Iterator[Problem]:
        for cause in self.knowledge.causes.values():
            if not any(fix in self.context.reach.done for fix in cause.fixes):
                message = f"none of its fixes can ever be offered: {', '.join(cause.fixes)}"
                yield self.problem("causes", cause.id, ("fixes",), message, "name another fix, or open one of them")


class WeightSum(Check):
    """The weights add up to about a thousand."""

    code = ProblemCode(
        "weight-sum",
        "Weights that are not of a thousand machines",
        "Only their ratios count, but a person who writes the next cause thinks of a thousand machines.",
        "Multiply all of them by the factor in the hint.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        total = sum(cause.weight for cause in self.knowledge.causes.values())
        if len(self.knowledge.causes) >= ENOUGH_CAUSES and abs(total - MACHINES_IN_ALL) > SUM_SLACK * MACHINES_IN_ALL:
            message = f"the weights of all causes add up to {total:g}; they are meant to be of a thousand machines"
            yield self.problem("", "", (), message, f"multiply each by {MACHINES_IN_ALL / total:.3g}")


class WeightShare(Check):
    """No cause has most of the weight, or next to none."""

    code = ProblemCode(
        "weight-share",
        "A cause with most of the weight, or with next to none",
        "A cause with a fifth of all faults is a group of several; one under a two-thousandth is never asked about.",
        "Split it, or join it to a cause that is mended alike.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        causes = self.knowledge.causes.values()
        total = sum(cause.weight for cause in causes)
        for cause in causes if len(causes) >= ENOUGH_CAUSES else ():
            share = cause.weight / total
            if share > LARGEST_SHARE or share * _largest_history_ratio(self.knowledge, cause) < LEAST_SHARE:
                message = f"weight {cause.weight:g} is {share:.2%} of all causes together"
                hint = "split the cause" if share > LARGEST_SHARE else "join it to a cause that is mended alike, or raise it"
                yield self.problem("causes", cause.id, ("weight",), message, hint)


CHECKS = (CauseTwins, ShowsTwice, NoOpenFix, WeightSum, WeightShare)


def _largest_history_ratio(knowledge: m.Knowledge, cause: m.Cause) -> float:
    """How many times likelier the one answer makes it that speaks most for it, of those to what happened before."""
    histories = (shown for name, shown in cause.shows.items() if knowledge.findings[name].combine is m.Combine.HISTORY)
    return max((max(shown.values()) for shown in histories), default=1.0)


def one_fix_serves(one: m.Cause, other: m.Cause) -> bool:
    """Whether some fix is nearly as good as the best for each of two causes."""
    tops = max(one.fixes.values()), max(other.fixes.values())
    chances = ((one.fixes[fix], other.fixes[fix]) for fix in one.fixes.keys() & other.fixes.keys())
    return any(a >= SERVES_BOTH * tops[0] and b >= SERVES_BOTH * tops[1] for a, b in chances)
