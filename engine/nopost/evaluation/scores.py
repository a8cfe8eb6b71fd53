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
ADVICE, ORACLE, CHECKLIST = "advice", "oracle", "checklist"
TWO_CAUSES, UNLISTED_CAUSE = "two causes at once", "a cause that nobody wrote down"
REGRET_PARTS = ("looks", "wrong_fixes", "giving_up", "right_fixes")


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and half the width of its interval; None when one machine says nothing of it."""

    value: float
    margin: float | None


@dataclass(frozen=True, slots=True)
class StrategySummary:
    """One strategy over all machines. Per machine: `effort` and its 90th percentile `p90` (money), `questions`, `wrong_fixes`,
    `risky_steps` (steps with a risk of damage), `forbidden` (steps with power against a sign of danger). Shares of machines:
    `repaired` without the shop, cause at place 1 (`top_one`) or among three (`top_three`) at the end. `to_oracle`,
    `to_checklist`: effort as a multiple of theirs."""

    strategy: str
    effort: Estimate
    p90: float
    questions: float
    wrong_fixes: float
    risky_steps: float
    forbidden: float
    repaired: float
    top_one: float
    top_three: float
    to_oracle: Estimate | None
    to_checklist: Estimate | None


@dataclass(frozen=True, slots=True)
class Regret:
    """What the advice takes more than the oracle. Per machine, in money: the effort of the `advice` and of the `oracle`, and what
    makes the difference: `looks` and tests, `wrong_fixes`, `giving_up` (the workshop where the oracle mends it: what it takes
    more than the right fixes would have taken), and `right_fixes` (others than the cheapest, or one more). `share`: part of
    all that is lost; `given_up`: share of machines that only the oracle mends without the workshop."""

    cause: str
    machines: int
    advice: float
    oracle: float
    share: float
    looks: float
    wrong_fixes: float
    giving_up: float
    right_fixes: float
    given_up: float

    @property
    def lost(self) -> float:
        """Per machine."""
        return self.advice - self.oracle

    @property
    def mostly(self) -> str:
        """The kind of loss that is greatest."""
        return max(REGRET_PARTS, key=lambda part: float(getattr(self, part)))


@dataclass(frozen=True, slots=True)
class RiskDifference:
    """Steps with a risk of damage, per machine: that only the checklist took (avoided), and that only the advice took."""

    avoided: float
    added: float


def summaries(result: SimulationResult) -> tuple[StrategySummary, ...]:
    """One for each strategy, in the order of the result."""
    return tuple(_summary_of(result, strategy) for strategy in result.strategies)


def _summary_of(result: SimulationResult, strategy: str) -> StrategySummary:
    results = result.of(strategy)
    efforts = values_of(results, lambda p: p.effort)

    def average(number: Callable[[EpisodeResult], float]) -> float:
        return float(values_of(results, number).mean())

    return StrategySummary(
        strategy=strategy,
        effort=mean_estimate(efforts),
        p90=float(np.quantile(efforts, 0.9)),
        questions=average(lambda p: p.questions),
        wrong_fixes=average(lambda p: p.wrong_fixes),
        risky_steps=average(lambda p: len(p.risky_steps)),
        forbidden=average(lambda p: p.forbidden),
        repaired=average(lambda p: p.repaired),
        top_one=average(lambda p: p.rank == 1),
        top_three=average(lambda p: 1 <= p.rank <= 3),
        to_oracle=_effort_ratio(result, efforts, ORACLE),
        to_checklist=_effort_ratio(result, efforts, CHECKLIST),
    )


def _effort_ratio(result: SimulationResult, efforts: Floats, other: str) -> Estimate | None:
    if other not in result.strategies:
        return None
    return ratio_estimate(efforts, values_of(result.of(other), lambda p: p.effort))


def values_of(results: Iterable[EpisodeResult], number: Callable[[EpisodeResult], float]) -> Floats:
    """(N,) a number of each episode."""
    return np.array([number(result) for result in results], dtype=float)


def mean_estimate(values: Floats) -> Estimate:
    """Mean of (N,) independent values."""
    margin = NORMAL_975 * float(values.std(ddof=1)) / len(values) ** 0.5 if len(values) > 1 else None
    return Estimate(float(values.mean()), margin)


def ratio_estimate(values: Floats, others: Floats) -> Estimate:
    """Mean of (N,) values over the mean of (N,) others of the same machines."""
    ratio = float(values.mean() / others.mean())
    return Estimate(ratio, mean_estimate((values - ratio * others) / others.mean()).margin)


def risk_difference(result: SimulationResult) -> RiskDifference | None:
    """The risky steps of the advice against those of the checklist; None unless both were run."""
    if not {ADVICE, CHECKLIST} <= {*result.strategies}:
        return None
    both = list(zip(result.of(ADVICE), result.of(CHECKLIST), strict=True))
    avoided = [len({*listed.risky_steps} - {*advised.risky_steps}) for advised, listed in both]
    added = [len({*advised.risky_steps} - {*listed.risky_steps}) for advised, listed in both]
    return RiskDifference(float(np.mean(avoided)), float(np.mean(added)))


def regret_by_cause(result: SimulationResult) -> tuple[Regret, ...]:
    """One for each cause and one for all pairs, the greatest loss first; empty unless the advice and the oracle were run."""
    if not {ADVICE, ORACLE} <= {*result.strategies}:
        return ()
    groups: dict[str, list[tuple[EpisodeResult, EpisodeResult]]] = defaultdict(list)
    for advised, least in zip(result.of(ADVICE), result.of(ORACLE), strict=True):
        groups[_cause_group(advised.causes)].append((advised, least))
    total = sum(advised.effort - least.effort for group in groups.values() for advised, least in group)
    found = [_regret(cause, group, total) for cause, group in groups.items()]
    return tuple(sorted(found, key=lambda loss: (-loss.lost * loss.machines, loss.cause)))


def _cause_group(causes: tuple[str, ...]) -> str:
    return causes[0] if len(causes) == 1 else TWO_CAUSES if causes else UNLISTED_CAUSE


def total_regret(result: SimulationResult) -> Regret | None:
    """The same over all machines."""
    if not {ADVICE, ORACLE} <= {*result.strategies}:
        return None
    pairs = list(zip(result.of(ADVICE), result.of(ORACLE), strict=True))
    return _regret("", pairs, sum(advised.effort - least.effort for advised, least in pairs))


def _regret(cause: str, pairs: Sequence[tuple[EpisodeResult, EpisodeResult]], total: float) -> Regret:
    count = len(pairs)
    given_up = [least.repaired and not advised.repaired for advised, least in pairs]
    endings = [advised.right_fix_cost + advised.shop_cost - least.right_fix_cost - least.shop_cost for advised, least in pairs]
    lost = sum(advised.effort - least.effort for advised, least in pairs)
    return Regret(
        cause=cause,
        machines=count,
        advice=sum(advised.effort for advised, _ in pairs) / count,
        oracle=sum(least.effort for _, least in pairs) / count,
        share=lost / total if total else 0.0,
        looks=sum(advised.look_cost for advised, _ in pairs) / count,
        wrong_fixes=sum(advised.wrong_fix_cost for advised, _ in pairs) / count,
        giving_up=sum(more for more, up in zip(endings, given_up, strict=True) if up) / count,
        right_fixes=sum(more for more, up in zip(endings, given_up, strict=True) if not up) / count,
        given_up=sum(given_up) / count,
    )
