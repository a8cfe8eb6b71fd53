"""From counts to proposals: the posterior mean of a Dirichlet whose prior is the number in the file.

The prior counts as `strength` imagined cases, shared out as the file says; n real ones are added; the mean of the result is
proposed (Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.4: the Dirichlet is conjugate to counts). Each entry's
interval is the one of its beta marginal.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from nopost.belief.hypotheses import Floats
from nopost.belief.model import BeliefModel
from nopost.knowledge.model import Cause, Combine, Finding
from nopost.trial.learn.beta import interval
from nopost.trial.learn.counts import Counts

STRENGTH = 20.0
"""So many cases the number in a file counts for (judgement: what one bench sees of a cause in a year or two)."""
WEIGHT_STRENGTH = 500.0
"""The same for all weights together (judgement)."""
LEAST = {"weight": 0.05, "shows": 0.01, "fixes": 0.01}
"""What moves less is not proposed: a share of the old weight, or a chance. Weights of causes that were not seen all fall by the
same small share, which changes nothing among them."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One number, a chance or a weight: as it stands, as proposed, as counted, and the interval (90 %) of what is proposed."""

    name: str
    old: float
    new: float
    counted: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Proposal:
    """A change of one cause: its `weight`, one of its `shows` or one of its `fixes` (`item` names which).

    `values`: what is to stand in the file; `cases`: how many it rests on; `bent`: it was bent to keep the order of answers.
    """

    cause: str
    kind: str
    item: str
    cases: int
    entries: tuple[Entry, ...]
    values: dict[str, float]
    bent: bool = False

    @property
    def shift(self) -> float:
        """Largest change of a chance; of a weight, relative to the old one."""
        relative = [abs(e.new - e.old) / (e.old if self.kind == "weight" else 1.0) for e in self.entries]
        return max(relative)


def propose(
    model: BeliefModel, counts: Counts, strength: float = STRENGTH, weight_strength: float = WEIGHT_STRENGTH
) -> list[Proposal]:
    """All changes worth looking at, the largest first within each kind: weights, then shows, then fixes."""
    found = [*_weights(model, counts, weight_strength), *_shows(model, counts, strength), *_fixes(model, counts, strength)]
    order = ("weight", "shows", "fixes")
    return sorted((p for p in found if p.shift >= LEAST[p.kind]), key=lambda p: (order.index(p.kind), -p.shift, p.cause, p.item))


def _weights(model: BeliefModel, counts: Counts, strength: float) -> Iterator[Proposal]:
    """A cause's share among all; weights keep their sum, so that the numbers of causes not seen fall a little."""
    causes = model.knowledge.causes
    total = sum(cause.weight for cause in causes.values())
    if not counts.cases:
        return
    for cause in causes.values():
        prior, seen = strength * cause.weight / total, counts.causes[cause.id]
        new = total * (prior + seen) / (strength + counts.cases)
        low, high = (total * bound for bound in interval(prior + seen, strength + counts.cases - prior - seen))
        entry = Entry("weight", cause.weight, new, float(seen), low, high)
        yield Proposal(cause.id, "weight", "", seen, (entry,), {"weight": rounded(new)})


def _shows(model: BeliefModel, counts: Counts, strength: float) -> Iterator[Proposal]:
    for (name, finding_id), seen in counts.seen.items():
        cause, finding = model.knowledge.causes[name], model.knowledge.findings[finding_id]
        old = model.shown(finding_id).alone()[model.index[name]]
        alpha = strength * old + seen
        wanted = alpha / alpha.sum()
        baseline = _baseline(finding)
        new = keep_order(wanted, baseline) if finding.combine is Combine.GRADED else wanted
        bounds = [interval(float(a), float(alpha.sum() - a)) for a in alpha]
        entries = tuple(
            Entry(answer, float(old[k]), float(new[k]), float(seen[k]), *bounds[k]) for k, answer in enumerate(finding.answer_ids)
        )
        values = _in_file(cause, finding, new, baseline)
        bent = bool(np.abs(new - wanted).max() > LEAST["shows"] / 2)
        yield Proposal(name, "shows", finding_id, counts.reports[name, finding_id], entries, values, bent)


def _baseline(finding: Finding) -> Floats:
    values = np.array([finding.baseline.get(answer, 0.0) for answer in finding.answer_ids])
    return np.asarray(values / values.sum())


def _in_file(cause: Cause, finding: Finding, new: Floats, baseline: Floats) -> dict[str, float]:
    """Chances as they stand in a file: rounded so that they add up to 1; for a history finding, ratios to the baseline."""
    if finding.combine is not Combine.HISTORY:
        return dict(zip(finding.answer_ids, adding_up(new), strict=True))
    old = cause.shows.get(finding.id, {})
    scale = sum(old.get(answer, 1.0) * share for answer, share in zip(finding.answer_ids, baseline, strict=True))
    ratios = {
        answer: rounded(scale * value / share)
        for answer, value, share in zip(finding.answer_ids, new, baseline, strict=True)
        if share > 0
    }
    return {answer: ratio for answer, ratio in ratios.items() if ratio != 1.0 or answer in old}


def _fixes(model: BeliefModel, counts: Counts, strength: float) -> Iterator[Proposal]:
    """The chance that an action mends the cause, from what was tried; a fix that the cause does not name stays unnamed."""
    for (name, action), (mended, left) in counts.fixes.items():
        old = model.knowledge.causes[name].fixes.get(action, 0.0)
        if not old > 0:
            continue
        a, b = strength * old + mended, strength * (1 - old) + left
        low, high = interval(a, b)
        entry = Entry(action, old, a / (a + b), float(mended), low, high)
        yield Proposal(name, "fixes", action, mended + left, (entry,), {action: round(entry.new, 2)})


def keep_order(row: Floats, baseline: Floats) -> Floats:
    """The nearest row that only pushes towards more abnormal: cumulative over the baseline's must rise to 1.

    Neighbours that fall are pooled, weighed by the baseline (isotonic regression: pool adjacent violators, Ayer et al. 1955).
    """
    leak = np.cumsum(baseline)
    ratios = np.divide(np.cumsum(row), leak, out=np.zeros_like(row), where=leak > 0)
    pooled: list[list[float]] = []  # value, weight, how many
    for value, weight in zip(np.minimum(ratios, 1.0), baseline, strict=True):
        pooled.append([float(value), max(float(weight), 1e-9), 1])
        while len(pooled) > 1 and pooled[-2][0] > pooled[-1][0]:
            value_, weight_, many = pooled.pop()
            last = pooled[-1]
            last[0] = (last[0] * last[1] + value_ * weight_) / (last[1] + weight_)
            last[1], last[2] = last[1] + weight_, last[2] + many
    rising = np.concatenate([[value] * int(many) for value, _, many in pooled])
    rising[-1] = 1.0
    cumulative = np.where(leak > 0, rising * leak, 0.0)
    return np.asarray(np.clip(np.diff(cumulative, prepend=0.0), 0.0, None))


def adding_up(row: Floats, digits: int = 3) -> list[float]:
    """The row rounded so that it still adds up to 1: what is left goes to the largest remainders."""
    unit = 10**digits
    scaled = row / row.sum() * unit
    whole = np.floor(scaled + 1e-9)
    for k in np.argsort(whole - scaled, kind="stable")[: round(unit - whole.sum())]:
        whole[k] += 1
    return [float(value) / unit for value in whole]


def rounded(value: float) -> float:
    """Three significant digits."""
    return float(f"{value:.3g}")
