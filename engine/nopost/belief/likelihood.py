"""P(answer | hypothesis) for every finding, compiled once from a knowledge base.

A finding that is not an instrument has a true answer with a distribution per hypothesis; what a person reports, or what an
instrument shows, is a noisy channel from it. Two causes meet by noisy-MAX along the finding's order (Díez 1993, "Parameter
adjustment in Bayes networks: the generalized noisy OR-gate", UAI), by multiplying ratios, or by an even mixture.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nopost.belief.hypotheses import Floats, Hypotheses
from nopost.knowledge.model import Base, Cause, Combine, Finding

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Channel:
    """How a finding's reported answers come from the true answers of `target` (itself, or what it reads).

    `matrix`: (true answers of target, reported answers), rows sum to 1.
    """

    target: str
    matrix: Floats


def true_distributions(finding: Finding, causes: Mapping[str, Cause], h: Hypotheses, base: Base) -> Floats:
    """(H, answers) P(true answer | hypothesis) of a finding that is not an instrument."""
    baseline = _vector(finding, finding.baseline)
    shown = [causes[name].shows.get(finding.id) for name in h.causes]
    if finding.combine is Combine.HISTORY:
        single, pairs = _history(finding, shown, baseline, h)
    else:
        single, pairs = _distributions(finding, shown, baseline, h)
    weights = np.exp(h.log_prior[: len(h.causes)])
    mean = weights @ single / weights.sum()
    spread = base.unlisted_spread
    unlisted = (1 - spread) * mean + spread / len(baseline)
    return np.vstack([single, pairs, unlisted])


def _vector(finding: Finding, table: Mapping[str, float]) -> Floats:
    values = np.array([table.get(a, 0.0) for a in finding.answer_ids], dtype=float)
    return np.asarray(values / values.sum())


def _distributions(
    finding: Finding, shown: list[Mapping[str, float] | None], baseline: Floats, h: Hypotheses
) -> tuple[Floats, Floats]:
    """Single causes and pairs of a graded or an either finding."""
    unnamed = _vector(finding, finding.unnamed) if finding.unnamed else baseline
    single = np.array([unnamed if table is None else _vector(finding, table) for table in shown])
    i, j = h.first[h.pairs], h.second[h.pairs]
    if finding.combine is Combine.GRADED:
        return single, noisy_max(single[i], single[j], baseline)
    named = np.array([table is not None for table in shown])
    return single, even_mixture(single[i], single[j], named[i], named[j])


def noisy_max(one: Floats, other: Floats, baseline: Floats) -> Floats:
    """(N, answers) each: the more abnormal answer wins and the shared leak `baseline` counts once: F1 * F2 / F0."""
    leak = np.cumsum(baseline)
    joint = np.cumsum(one, axis=1) * np.cumsum(other, axis=1)
    cumulative = np.divide(joint, leak, out=np.zeros_like(joint), where=leak > 0)
    result = np.clip(np.diff(cumulative, axis=1, prepend=0.0), 0.0, None)
    return np.asarray(result / result.sum(axis=1, keepdims=True)) if len(result) else result


def even_mixture(one: Floats, other: Floats, named: Flags, other_named: Flags) -> Floats:
    """(N, answers): half of each where both causes name the finding, else the one that names it."""
    share = np.where(named & ~other_named, 1.0, np.where(other_named & ~named, 0.0, 0.5))[:, None]
    return np.asarray(share * one + (1 - share) * other)


def _history(finding: Finding, shown: list[Mapping[str, float] | None], baseline: Floats, h: Hypotheses) -> tuple[Floats, Floats]:
    """Ratios to the baseline multiply and are renormalised."""
    ratios = np.array([[(table or {}).get(a, 1.0) for a in finding.answer_ids] for table in shown])
    single = ratios * baseline
    pairs = ratios[h.first[h.pairs]] * ratios[h.second[h.pairs]] * baseline
    return _normalised(single, baseline), _normalised(pairs, baseline)


def _normalised(rows: Floats, fallback: Floats) -> Floats:
    """Rows that sum to 1; a row of zeros (ratios that exclude each other) becomes the fallback."""
    sums = rows.sum(axis=1, keepdims=True)
    return np.asarray(np.where(sums > 0, rows / np.where(sums > 0, sums, 1.0), fallback))


def misreport_matrix(count: int, rate: float) -> Floats:
    """(count, count): the true answer is reported but for `rate`, which falls evenly on the others."""
    matrix = np.full((count, count), rate / (count - 1))
    np.fill_diagonal(matrix, 1 - rate)
    return matrix


def channel(finding: Finding, findings: Mapping[str, Finding]) -> Channel:
    """The channel through which a finding is reported."""
    own = misreport_matrix(len(finding.answers), finding.misreport)
    if finding.reads is None:
        return Channel(finding.id, own)
    target = findings[finding.reads.finding]
    table = np.array([_vector(finding, finding.reads.table[a]) for a in target.answer_ids])
    return Channel(target.id, table @ own)
