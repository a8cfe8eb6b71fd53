"""What many games come to: means with their doubt, ratios of strategies, and where effort is lost.

Intervals hold for 95 of 100 samples, by the normal approximation. All strategies meet the same machines, so differences and
ratios are taken machine by machine. Variance of a ratio of means: Cochran, Sampling Techniques, 3rd ed. 1977, section 6.4 (from
memory).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from nopost.belief.hypotheses import Floats
from nopost.trial.play import Play
from nopost.trial.simulate import Result

Z = 1.959963984540054
"""Two-sided 95 % point of the normal distribution."""
OURS, BOUND, LIST = "advice", "all-knowing", "checklist"
TWO, NONE = "two causes at once", "a cause that nobody wrote down"
UNITS = ("asking", "wrong", "giving_up", "ending")


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and half the width of its interval; None when one machine says nothing of it."""

    value: float
    margin: float | None


@dataclass(frozen=True, slots=True)
class Summary:
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
class Loss:
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
        return max(UNITS, key=lambda unit: float(getattr(self, unit)))


@dataclass(frozen=True, slots=True)
class Dangers:
    """Steps with a risk of damage, per machine: that only the checklist took (avoided), and that only the advice took."""

    avoided: float
    added: float


def summaries(result: Result) -> tuple[Summary, ...]:
    """One for each strategy, in the order of the result."""
    return tuple(_summary(result, strategy) for strategy in result.strategies)


def _summary(result: Result, strategy: str) -> Summary:
    plays = result.of(strategy)
    efforts = of_each(plays, lambda p: p.effort)

    def average(number: Callable[[Play], float]) -> float:
        return float(of_each(plays, number).mean())

    return Summary(
        strategy=strategy,
        effort=mean(efforts),
        ninety=float(np.quantile(efforts, 0.9)),
        questions=average(lambda p: p.questions),
        wrong_fixes=average(lambda p: p.wrong_fixes),
        dangers=average(lambda p: len(p.dangers)),
        forbidden=average(lambda p: p.forbidden),
        repaired=average(lambda p: p.repaired),
        first=average(lambda p: p.rank == 1),
        three=average(lambda p: 1 <= p.rank <= 3),
        to_bound=_against(result, efforts, BOUND),
        to_list=_against(result, efforts, LIST),
    )


def _against(result: Result, efforts: Floats, other: str) -> Estimate | None:
    if other not in result.strategies:
        return None
    return ratio(efforts, of_each(result.of(other), lambda p: p.effort))


def of_each(plays: Iterable[Play], number: Callable[[Play], float]) -> Floats:
    """(N,) a number of each game."""
    return np.array([number(play) for play in plays], dtype=float)


def mean(values: Floats) -> Estimate:
    """Mean of (N,) independent values."""
    margin = Z * float(values.std(ddof=1)) / len(values) ** 0.5 if len(values) > 1 else None
    return Estimate(float(values.mean()), margin)


def ratio(values: Floats, others: Floats) -> Estimate:
    """Mean of (N,) values over the mean of (N,) others of the same machines."""
    quotient = float(values.mean() / others.mean())
    return Estimate(quotient, mean((values - quotient * others) / others.mean()).margin)


def dangers(result: Result) -> Dangers | None:
    """What the advice avoids; None unless both were played."""
    if not {OURS, LIST} <= {*result.strategies}:
        return None
    both = list(zip(result.of(OURS), result.of(LIST), strict=True))
    avoided = [len({*listed.dangers} - {*ours.dangers}) for ours, listed in both]
    added = [len({*ours.dangers} - {*listed.dangers}) for ours, listed in both]
    return Dangers(float(np.mean(avoided)), float(np.mean(added)))


def losses(result: Result) -> tuple[Loss, ...]:
    """One for each cause and one for all pairs, the greatest loss first; empty unless the advice and the bound were played."""
    if not {OURS, BOUND} <= {*result.strategies}:
        return ()
    groups: dict[str, list[tuple[Play, Play]]] = defaultdict(list)
    for ours, bound in zip(result.of(OURS), result.of(BOUND), strict=True):
        groups[_group(ours.causes)].append((ours, bound))
    total = sum(ours.effort - bound.effort for group in groups.values() for ours, bound in group)
    found = [_loss(cause, group, total) for cause, group in groups.items()]
    return tuple(sorted(found, key=lambda loss: (-loss.lost * loss.machines, loss.cause)))


def _group(causes: tuple[str, ...]) -> str:
    return causes[0] if len(causes) == 1 else TWO if causes else NONE


def all_losses(result: Result) -> Loss | None:
    """The same over all machines."""
    if not {OURS, BOUND} <= {*result.strategies}:
        return None
    pairs = list(zip(result.of(OURS), result.of(BOUND), strict=True))
    return _loss("", pairs, sum(ours.effort - bound.effort for ours, bound in pairs))


def _loss(cause: str, pairs: Sequence[tuple[Play, Play]], total: float) -> Loss:
    count = len(pairs)
    given_up = [bound.repaired and not ours.repaired for ours, bound in pairs]
    endings = [ours.right + ours.shop - bound.right - bound.shop for ours, bound in pairs]
    lost = sum(ours.effort - bound.effort for ours, bound in pairs)
    return Loss(
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
