"""What many episodes come to: means with their intervals, ratios of strategies, and the regret of the advice by cause.

Intervals hold for 95 of 100 samples, by the normal approximation. All strategies meet the same machines, so differences and
ratios are taken machine by machine. Variance of a ratio of means: Cochran, Sampling Techniques, 3rd ed. 1977, section 6.4 (from
memory).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.belief.hypotheses import Floats
from nopost.evaluation.simulation import EpisodeResult, SimulationResult

NORMAL_975 = 1.959963984540054
"""Two-sided 95 % point of the normal distribution."""
ADVICE, ORACLE, CHECKLIST = "advice", "all-knowing", "checklist"
TWO_CAUSES, UNLISTED_CAUSE = "two causes at once", "a cause that nobody wrote down"
REGRET_PARTS = ("asking", "wrong", "giving_up", "ending")


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and half the width of its interval; None when one machine says nothing of it."""

    value: float
    margin: float | None


@dataclass(frozen=True, slots=True)
class StrategySummary:
    """One strategy over all machines. Per machine: `effort` and its 90th percentile (money), `questions`, `wrong_fixes`,
    `dangers` (moves with a risk), `forbidden` (moves with power against a sign of danger). Shares of machines: `repaired` without
    the shop, cause `first` or among `three` at the end. `to_bound`, `to_list`: effort as a multiple of theirs."""

    strategy: str
    effort: Estimate
    ninety: float
    questions: float
    wrong_fixes: float
    dangers: float
    forbidden: float
    repaired: float
    first: float
    three: float
    to_bound: Estimate | None
    to_list: Estimate | None


@dataclass(frozen=True, slots=True)
class Regret:
    """What the advice loses against the all-knowing on the machines with one cause. Per machine, in money: `ours`, `bound`, and
    what makes the difference: `asking`, `wrong` fixes, `giving_up` (the workshop where the all-knowing mends it: what it
    takes more than the right fixes would have taken), and `ending` (other right fixes than the cheapest, or one more).
    `share`: part of all that is lost; `given_up`: share of machines that only the all-knowing mends without the workshop."""

    cause: str
    machines: int
    ours: float
    bound: float
    share: float
    asking: float
    wrong: float
    giving_up: float
    ending: float
    given_up: float

    @property
    def lost(self) -> float:
        """Per machine."""
        return self.ours - self.bound

    @property
    def mostly(self) -> str:
        """The kind of loss that is greatest."""
        return max(REGRET_PARTS, key=lambda unit: float(getattr(self, unit)))


@dataclass(frozen=True, slots=True)
class RiskDifference:
    """Steps with a risk of damage, per machine: that only the checklist took (avoided), and that only the advice took."""

    avoided: float
    added: float


def summaries(result: SimulationResult) -> tuple[StrategySummary, ...]:
    """One for each strategy, in the order of the result."""
    return tuple(_summary_of(result, strategy) for strategy in result.strategies)


def _summary_of(result: SimulationResult, strategy: str) -> StrategySummary:
    plays = result.of(strategy)
    efforts = values_of(plays, lambda p: p.effort)

    def average(number: Callable[[EpisodeResult], float]) -> float:
        return float(values_of(plays, number).mean())

    return StrategySummary(
        strategy=strategy,
        effort=mean_estimate(efforts),
        ninety=float(np.quantile(efforts, 0.9)),
        questions=average(lambda p: p.questions),
        wrong_fixes=average(lambda p: p.wrong_fixes),
        dangers=average(lambda p: len(p.dangers)),
        forbidden=average(lambda p: p.forbidden),
        repaired=average(lambda p: p.repaired),
        first=average(lambda p: p.rank == 1),
        three=average(lambda p: 1 <= p.rank <= 3),
        to_bound=_effort_ratio(result, efforts, ORACLE),
        to_list=_effort_ratio(result, efforts, CHECKLIST),
    )


def _effort_ratio(result: SimulationResult, efforts: Floats, other: str) -> Estimate | None:
    if other not in result.strategies:
        return None
    return ratio_estimate(efforts, values_of(result.of(other), lambda p: p.effort))


def values_of(plays: Iterable[EpisodeResult], number: Callable[[EpisodeResult], float]) -> Floats:
    """(N,) a number of each game."""
    return np.array([number(play) for play in plays], dtype=float)


def mean_estimate(values: Floats) -> Estimate:
    """Mean of (N,) independent values."""
    margin = NORMAL_975 * float(values.std(ddof=1)) / len(values) ** 0.5 if len(values) > 1 else None
    return Estimate(float(values.mean()), margin)


def ratio_estimate(values: Floats, others: Floats) -> Estimate:
    """Mean of (N,) values over the mean of (N,) others of the same machines."""
    quotient = float(values.mean() / others.mean())
    return Estimate(quotient, mean_estimate((values - quotient * others) / others.mean()).margin)


def dangers(result: SimulationResult) -> RiskDifference | None:
    """What the advice avoids; None unless both were played."""
    if not {ADVICE, CHECKLIST} <= {*result.strategies}:
        return None
    both = list(zip(result.of(ADVICE), result.of(CHECKLIST), strict=True))
    avoided = [len({*listed.dangers} - {*ours.dangers}) for ours, listed in both]
    added = [len({*ours.dangers} - {*listed.dangers}) for ours, listed in both]
    return RiskDifference(float(np.mean(avoided)), float(np.mean(added)))


def regret_by_cause(result: SimulationResult) -> tuple[Regret, ...]:
    """One for each cause and one for all pairs, the greatest loss first; empty unless the advice and the bound were played."""
    if not {ADVICE, ORACLE} <= {*result.strategies}:
        return ()
    groups: dict[str, list[tuple[EpisodeResult, EpisodeResult]]] = defaultdict(list)
    for ours, bound in zip(result.of(ADVICE), result.of(ORACLE), strict=True):
        groups[_cause_group(ours.causes)].append((ours, bound))
    total = sum(ours.effort - bound.effort for group in groups.values() for ours, bound in group)
    found = [_regret(cause, group, total) for cause, group in groups.items()]
    return tuple(sorted(found, key=lambda loss: (-loss.lost * loss.machines, loss.cause)))


def _cause_group(causes: tuple[str, ...]) -> str:
    return causes[0] if len(causes) == 1 else TWO_CAUSES if causes else UNLISTED_CAUSE


def total_regret(result: SimulationResult) -> Regret | None:
    """The same over all machines."""
    if not {ADVICE, ORACLE} <= {*result.strategies}:
        return None
    pairs = list(zip(result.of(ADVICE), result.of(ORACLE), strict=True))
    return _regret("", pairs, sum(ours.effort - bound.effort for ours, bound in pairs))


def _regret(cause: str, pairs: Sequence[tuple[EpisodeResult, EpisodeResult]], total: float) -> Regret:
    count = len(pairs)
    given_up = [bound.repaired and not ours.repaired for ours, bound in pairs]
    endings = [ours.right + ours.shop - bound.right - bound.shop for ours, bound in pairs]
    lost = sum(ours.effort - bound.effort for ours, bound in pairs)
    return Regret(
        cause=cause,
        machines=count,
        ours=sum(ours.effort for ours, _ in pairs) / count,
        bound=sum(bound.effort for _, bound in pairs) / count,
        share=lost / total if total else 0.0,
        asking=sum(ours.asking for ours, _ in pairs) / count,
        wrong=sum(ours.wrong for ours, _ in pairs) / count,
        giving_up=sum(more for more, up in zip(endings, given_up, strict=True) if up) / count,
        ending=sum(more for more, up in zip(endings, given_up, strict=True) if not up) / count,
        given_up=sum(given_up) / count,
    )
