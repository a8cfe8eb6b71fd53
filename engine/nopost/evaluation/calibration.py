"""Is a stated probability worth what it says? Scores of probabilities, and the reliability of the first cause.

* Log score: mean logarithm of the probability that was given to what turned out right (Good, Rational decisions, J. R. Stat.
  Soc. B 14, 1952). Base 2, so in bits; at most 0, higher is better. A probability below FLOOR counts as FLOOR: one case that
  was thought impossible would otherwise decide alone.
* Brier score: sum over all classes of the squared difference between probability and truth (1 for what is right, 0 for the rest),
  mean over the cases; 0 to 2, lower is better (Brier, Verification of forecasts expressed in terms of probability, Mon. Weather
  Rev. 78, 1950). Of the first cause alone (right or not) it is the mean square of confidence less truth, 0 to 1.
* That one is reliability - resolution + uncertainty (Murphy, A new vector partition of the probability score, J. Appl. Meteorol.
  12, 1973); exact when all confidences of a bin are equal.
* Calibration error: mean over the bins, weighted by their cases, of the distance between mean confidence and share of right ones
  (expected calibration error; Naeini, Cooper & Hauskrecht, AAAI 2015).

Bins have equal width; a confidence on an edge goes into the upper bin, and 1 into the last.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean

BINS = 5
"""Bins of the reliability table: with some hundred cases more would be noise."""
FLOOR = 1e-4


def place_of(ranking: Iterable[tuple[str, float]], right: Collection[str]) -> int:
    """Place of the first right one in a ranking, from 1; 0 when there is none."""
    return next((place for place, (name, _) in enumerate(ranking, start=1) if name in right), 0)


def share_among(places: Sequence[int], most: int) -> float:
    """Share of places among the first `most`; place 0 is nowhere."""
    return sum(1 <= place <= most for place in places) / len(places)


def log_score(chances: Sequence[float], base: float = 2.0, floor: float = FLOOR) -> float:
    """Mean logarithm of the probabilities given to what was right."""
    return sum(math.log(max(chance, floor), base) for chance in chances) / len(chances)


def chance_of(chances: Mapping[str, float], right: Collection[str]) -> float:
    """Probability given to the right ones together, at most 1: of two causes at once each has its whole probability."""
    return min(sum(chance for name, chance in chances.items() if name in right), 1.0)


def brier_of_classes(chances: Mapping[str, float], right: Collection[str]) -> float:
    """Brier score of one case, over all classes; the right ones count as one class."""
    wrong = sum(chance**2 for name, chance in chances.items() if name not in right)
    return (1 - chance_of(chances, right)) ** 2 + wrong


def brier_of_first(confidences: Sequence[float], right: Sequence[bool]) -> float:
    """Mean square of confidence less truth."""
    return sum((p - y) ** 2 for p, y in zip(confidences, right, strict=True)) / len(confidences)


@dataclass(frozen=True, slots=True)
class ReliabilityBin:
    """Cases whose confidence lies from `low` up to `high`: how many, their mean confidence, and the share that was right."""

    low: float
    high: float
    count: float
    confidence: float
    right: float


@dataclass(frozen=True, slots=True)
class CalibrationError:
    """Distance between confidence and share of right ones over the bins: weighted mean, root of the mean square, largest."""

    mean: float
    root_mean_square: float
    largest: float


@dataclass(frozen=True, slots=True)
class BrierParts:
    """The Brier score of the first cause is reliability - resolution + uncertainty, but for differences within a bin."""

    reliability: float
    resolution: float
    uncertainty: float


def reliability_table(confidences: Sequence[float], right: Sequence[bool], bins: int = BINS) -> tuple[ReliabilityBin, ...]:
    """The bins that hold anything, in order."""
    held: dict[int, list[tuple[float, bool]]] = defaultdict(list)
    for pair in zip(confidences, right, strict=True):
        held[min(int(pair[0] * bins), bins - 1)].append(pair)
    return tuple(
        ReliabilityBin(k / bins, (k + 1) / bins, len(rows), fmean(p for p, _ in rows), fmean(y for _, y in rows))
        for k, rows in sorted(held.items())
    )


def calibration_error(table: Sequence[ReliabilityBin]) -> CalibrationError:
    """Of a table that holds at least one case."""
    total = sum(row.count for row in table)
    gaps = [(row.count / total, abs(row.confidence - row.right)) for row in table]
    mean, square = (sum(weight * gap**power for weight, gap in gaps) for power in (1, 2))
    return CalibrationError(mean, math.sqrt(square), max(gap for _, gap in gaps))


def brier_parts(table: Sequence[ReliabilityBin]) -> BrierParts:
    """Of a table that holds at least one case."""
    total = sum(row.count for row in table)
    base = sum(row.count * row.right for row in table) / total
    return BrierParts(
        reliability=sum(row.count * (row.confidence - row.right) ** 2 for row in table) / total,
        resolution=sum(row.count * (row.right - base) ** 2 for row in table) / total,
        uncertainty=base * (1 - base),
    )
