"""Scores of stated probabilities, against published examples. Beside each: where its numbers are printed."""

from __future__ import annotations

import math
from statistics import fmean

import pytest

from nopost.evaluation.calibration import (
    ReliabilityBin,
    brier_of_classes,
    brier_of_first,
    brier_parts,
    calibration_error,
    chance_of,
    log_score,
    place_of,
    reliability_table,
    share_among,
)


def truths(*numbers: int) -> list[bool]:
    """0 and 1 as truths."""
    return [bool(number) for number in numbers]


def test_brier_score_of_one_class() -> None:
    """scikit-learn 1.9.1, docstring of brier_score_loss."""
    assert brier_of_first([0.1, 0.9, 0.8, 0.3], truths(0, 1, 1, 0)) == pytest.approx(0.0375)


def test_brier_score_over_classes() -> None:
    """scikit-learn 1.9.1, docstring of brier_score_loss with three classes: 0.146, which is 0.14667 cut."""
    rows = [(0.8, 0.1, 0.1), (0.2, 0.7, 0.1), (0.2, 0.2, 0.6)]
    scores = [brier_of_classes(dict(zip("abc", row, strict=True)), {true}) for row, true in zip(rows, "abc", strict=True)]
    assert fmean(scores) == pytest.approx(0.146667, abs=1e-6)


def test_brier_score_as_mean_over_both_classes() -> None:
    """PyCalib, docstring and tests: 0.185 for 0.9 and 0.4 given to the true class; ours is the sum, so twice that."""
    assert fmean(brier_of_classes({"a": p, "b": 1 - p}, {"a"}) for p in (0.9, 0.4)) == pytest.approx(2 * 0.185)


@pytest.mark.parametrize(
    ("chances", "published"),
    [
        ([0.9, 0.9, 0.8, 0.65], 0.21616),  # scikit-learn 1.9.1, docstring of log_loss
        ([0.9, 0.4], 0.5108256),  # PyCalib, docstring of cross_entropy
    ],
)
def test_log_score(chances: list[float], published: float) -> None:
    """The published losses are in nats and of the other sign; bits are nats over ln 2."""
    assert log_score(chances, base=math.e) == pytest.approx(-published, abs=1e-5)
    assert log_score(chances) == pytest.approx(-published / math.log(2), abs=1e-5)


def test_the_floor_of_the_log_score() -> None:
    """What was thought impossible counts as one in ten thousand; by definition, no source."""
    assert log_score([0.0, 1.0]) == pytest.approx(math.log2(1e-4) / 2)
    assert log_score([1e-9], floor=0.25) == -2


def test_among_the_first() -> None:
    """scikit-learn 1.9.1, docstring of top_k_accuracy_score: 0.75 among two."""
    rows, true = [(0.5, 0.2, 0.2), (0.3, 0.4, 0.2), (0.2, 0.4, 0.3), (0.7, 0.2, 0.1)], "0122"
    rankings = [sorted(zip("012", row, strict=True), key=lambda pair: -pair[1]) for row in rows]
    places = [place_of(ranking, {name}) for ranking, name in zip(rankings, true, strict=True)]
    assert places == [1, 1, 2, 3]
    assert share_among(places, 2) == 0.75
    assert place_of(rankings[0], {"9"}) == 0
    assert share_among([0, 1], 3) == 0.5


def test_reliability_table_and_edges() -> None:
    """scikit-learn 1.9.1, docstring of calibration_curve: three bins; 1 goes into the last one."""
    table = reliability_table([0.1, 0.2, 0.3, 0.4, 0.65, 0.7, 0.8, 0.9, 1.0], truths(0, 0, 0, 0, 1, 1, 1, 1, 1), 3)
    assert [row.right for row in table] == [0, 0.5, 1]
    assert [row.confidence for row in table] == pytest.approx([0.2, 0.525, 0.85])
    on_edge = reliability_table([0.2, 0.4, 1.0], truths(1, 1, 1))
    assert [(row.low, row.high) for row in on_edge] == [(0.2, 0.4), (0.4, 0.6), (0.8, 1.0)]


TOP3 = [(0.25, 0.20, 0.55), (0.55, 0.05, 0.40), (0.10, 0.30, 0.60), (0.90, 0.05, 0.05)]


@pytest.mark.parametrize(
    ("confidences", "right", "bins", "published"),
    [
        # torchmetrics 1.9.0, docstrings of the binary and of the multiclass calibration error: mean, root mean square, largest
        ([0.25, 0.25, 0.55, 0.75, 0.75], (0, 0, 1, 1, 1), 2, (0.2900, 0.2918, 0.3167)),
        (
            [max(row) for row in TOP3],
            [max(row) == row[k] for row, k in zip(TOP3, (0, 1, 2, 0), strict=True)],
            3,
            (0.2, 0.2082, 0.2333),
        ),
    ],
)
def test_calibration_error(confidences: list[float], right: list[int], bins: int, published: tuple[float, ...]) -> None:
    """Mean, root mean square and largest gap."""
    error = calibration_error(reliability_table(confidences, truths(*right), bins))
    assert (error.mean, error.root_mean_square, error.largest) == pytest.approx(published, abs=5e-5)


@pytest.mark.parametrize(
    ("confidences", "right", "mean", "largest"),
    [
        # PyCalib, docstrings and tests of ECE and MCE, two bins
        ([0.1, 0.2, 0.3, 0.7, 0.8, 0.9], (0, 0, 0, 1, 1, 1), 0.2, None),
        ([0.4, 0.4, 0.4, 0.6, 0.6, 0.6], (0, 0, 0, 1, 1, 1), 0.4, None),
        ([0.1, 0.2, 0.3, 0.6, 0.7, 0.8], (0, 0, 0, 1, 1, 1), None, 0.3),
        ([0.1, 0.1, 0.1, 0.6, 0.6, 0.6], (0, 0, 0, 1, 1, 1), None, 0.4),
        ([0.6] * 10, (1,) * 6 + (0,) * 4, 0.0, 0.0),
    ],
)
def test_calibration_error_in_two_bins(
    confidences: list[float], right: tuple[int, ...], mean: float | None, largest: float | None
) -> None:
    """The same by another library."""
    error = calibration_error(reliability_table(confidences, truths(*right), 2))
    assert mean is None or error.mean == pytest.approx(mean, abs=1e-9)
    assert largest is None or error.largest == pytest.approx(largest, abs=1e-9)


def test_calibration_error_of_nine_samples() -> None:
    """A web tutorial on the expected calibration error, five bins: 0.10444; its data are from memory."""
    confidences = [0.78, 0.64, 0.92, 0.58, 0.51, 0.85, 0.70, 0.63, 0.83]
    error = calibration_error(reliability_table(confidences, truths(1, 1, 0, 1, 0, 1, 1, 0, 1)))
    assert error.mean == pytest.approx(0.10444, abs=1e-5)


def test_parts_of_the_brier_score() -> None:
    """Data of the course slides on calibration by Flach and Perello Nieto, whose bins hold 0/2, 1/2, 2/3 and 1/1 right ones; the
    scores recomputed outside this project."""
    confidences, right = [0.1, 0.1, 0.4, 0.4, 0.7, 0.7, 0.7, 0.9], truths(0, 0, 0, 1, 0, 1, 1, 1)
    table = reliability_table(confidences, right, 10)
    assert [(row.count, row.right) for row in table] == [(2, 0), (2, 0.5), (3, pytest.approx(2 / 3)), (1, 1)]
    parts = brier_parts(table)
    assert (parts.reliability, parts.resolution, parts.uncertainty) == pytest.approx((0.006667, 0.104167, 0.25), abs=1e-6)
    assert brier_of_first(confidences, right) == pytest.approx(0.1525)
    assert parts.reliability - parts.resolution + parts.uncertainty == pytest.approx(0.1525)
    assert calibration_error(table).mean == pytest.approx(0.075)
    given = [p if y else 1 - p for p, y in zip(confidences, right, strict=True)]
    assert log_score(given, base=math.e) == pytest.approx(-0.457565, abs=1e-6)


def test_parts_of_published_forecasts() -> None:
    """Wilks, Statistical Methods in the Atmospheric Sciences, 1995, table 7.3: base rate 0.162; the data as in the manual of the
    R package verification, the scores recomputed outside this project."""
    said = [0, 0.05, *(k / 10 for k in range(1, 11))]
    seen = [0.006, 0.019, 0.059, 0.15, 0.277, 0.377, 0.511, 0.587, 0.723, 0.779, 0.934, 0.933]
    weights = [0.4112, 0.0671, 0.1833, 0.0986, 0.0616, 0.0366, 0.0303, 0.0275, 0.0245, 0.022, 0.017, 0.0203]
    table = [ReliabilityBin(p, p, w, p, y) for p, y, w in zip(said, seen, weights, strict=True)]
    parts = brier_parts(table)
    assert sum(row.count * row.right for row in table) / sum(weights) == pytest.approx(0.162, abs=5e-4)
    assert (parts.reliability, parts.resolution, parts.uncertainty) == pytest.approx((0.000828, 0.062787, 0.135420), abs=1e-6)
    assert parts.reliability - parts.resolution + parts.uncertainty == pytest.approx(0.073461, abs=1e-6)
    assert calibration_error(table).mean == pytest.approx(0.022906, abs=1e-6)


def test_scores_of_naive_bayes_on_counted_rows() -> None:
    """Naive Bayes with +1 smoothing on 100 rows of three binary features, scored on the same rows; reference values computed
    outside this project by code that reproduces published outputs (University of Wisconsin, CS760, 2019, homework 2)."""
    counts = {0: [20, 10, 2, 1, 3, 2, 8, 4], 1: [4, 6, 1, 1, 1, 2, 14, 21]}

    def joint(label: int, pattern: int) -> float:
        rows, total = counts[label], sum(counts[label])
        product = (total + 1) / (100 + 2)
        for bit in (4, 2, 1):
            ones = sum(count for k, count in enumerate(rows) if k & bit)
            product *= (ones + 1 if pattern & bit else total - ones + 1) / (total + 2)
        return product

    chance = [joint(1, k) / (joint(0, k) + joint(1, k)) for k in range(8)]
    assert [chance[k] for k in (0, 1, 6, 7)] == pytest.approx([0.084115, 0.203874, 0.760669, 0.898603], abs=1e-6)
    said = [chance[k] for label in (0, 1) for k in range(8) for _ in range(counts[label][k])]
    right = [bool(label) for label in (0, 1) for _ in range(sum(counts[label]))]
    assert brier_of_first(said, right) == pytest.approx(0.196029708, abs=1e-9)
    given = [p if y else 1 - p for p, y in zip(said, right, strict=True)]
    assert log_score(given, base=math.e) == pytest.approx(-0.586706443, abs=1e-9)


def test_several_right_causes_are_one_class() -> None:
    """Any of them is right; with two causes at once each has its whole probability, so their sum is cut at 1."""
    chances = {"a": 0.5, "b": 0.2, "c": 0.3}
    assert chance_of(chances, {"a", "b"}) == pytest.approx(0.7)
    assert brier_of_classes(chances, {"a", "b"}) == pytest.approx(0.3**2 + 0.3**2)
    assert chance_of({"a": 0.9, "b": 0.9}, {"a", "b"}) == 1
    assert brier_of_classes(chances, {"d"}) == pytest.approx(1 + 0.25 + 0.04 + 0.09)
