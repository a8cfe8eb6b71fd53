"""The likelihoods P(answer | hypothesis) of every finding, compiled once from a knowledge base.

A finding that is not an instrument has a true answer with a distribution for each hypothesis. What its parent has to do with it,
`finding_node` says. The effects of two causes combine by noisy-MAX along the order of the finding's answers (Díez 1993,
"Parameter adjustment in Bayes networks: the generalized noisy OR-gate", UAI), by multiplying ratios to the baseline, or by an
even mixture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.belief.hypotheses import Flags, Floats, Hypotheses, Ints
from nopost.knowledge.model import Base, Cause, Combine, Finding

ShareTable = Mapping[str, float]


@dataclass(frozen=True)
class AnswerLikelihood:
    """P(answer | hypothesis) of a finding, stored once for each class of causes that have the same effect on it.

    `class_of_cause`: (C,) index of the class of each cause; `by_class`: (U, answers) for one cause of each class;
    `by_class_pair`: (U, U, answers) for two causes by their classes; `unlisted`: (answers,). All distributions sum to 1.
    """

    class_of_cause: Ints
    by_class: Floats
    by_class_pair: Floats
    unlisted: Floats

    def table(self, hypotheses: Hypotheses) -> Floats:
        """(H, answers) P(answer | hypothesis)."""
        return self._for_each_hypothesis(hypotheses, self.by_class, self.by_class_pair, self.unlisted)

    def single_cause_table(self) -> Floats:
        """(C, answers) P(answer | this cause alone)."""
        return np.asarray(self.by_class[self.class_of_cause])

    def stacked(self) -> Floats:
        """(U + U * U + 1, answers) the distributions of the classes, then of the pairs of classes, last of unlisted."""
        return np.vstack([self.by_class, self.by_class_pair.reshape(-1, len(self.unlisted)), self.unlisted])

    @classmethod
    def from_stacked(cls, class_of_cause: Ints, rows: Floats) -> AnswerLikelihood:
        """From the distributions in one array as `stacked` gives them."""
        classes = int(class_of_cause.max()) + 1
        pairs = rows[classes:-1].reshape(classes, classes, -1)
        return cls(class_of_cause, rows[:classes], pairs, rows[-1])

    def _for_each_hypothesis(self, hypotheses: Hypotheses, by_class: Floats, by_class_pair: Floats, unlisted: Floats) -> Floats:
        """(H, …) values for every hypothesis from (U, …), (U, U, …) and (…) values by class."""
        first, second = hypotheses.first[hypotheses.pairs], hypotheses.second[hypotheses.pairs]
        pairs = by_class_pair[self.class_of_cause[first], self.class_of_cause[second]]
        return np.concatenate([by_class[self.class_of_cause], pairs, np.asarray(unlisted)[None]])


def build_answer_likelihood(
    finding: Finding, causes: Mapping[str, Cause], hypotheses: Hypotheses, base: Base
) -> AnswerLikelihood:
    """P(true answer | hypothesis) of a finding that is not an instrument.

    An unlisted cause looks like the mean listed cause, mixed with `base.unlisted_spread` of the uniform distribution.
    """
    baseline = distribution(finding, finding.baseline)
    class_of_cause, shares = _classes([causes[name].shows.get(finding.id) for name in hypotheses.causes])
    i, j = np.indices((len(shares), len(shares))).reshape(2, -1)
    if finding.combine is Combine.HISTORY:
        by_class, pairs = _ratio_tables(finding, shares, baseline, i, j)
    else:
        by_class, pairs = _share_tables(finding, shares, baseline, i, j)
    weights = np.exp(hypotheses.log_prior[: len(hypotheses.causes)])
    mean = weights @ by_class[class_of_cause] / weights.sum()
    spread = base.unlisted_spread
    unlisted = (1 - spread) * mean + spread / len(baseline)
    return AnswerLikelihood(class_of_cause, by_class, pairs.reshape(len(shares), len(shares), -1), unlisted)


def _classes(shares: Sequence[ShareTable | None]) -> tuple[Ints, list[ShareTable | None]]:
    """(C,) the class of each cause, and for each class what its causes show of the finding; None: they do not name it."""
    numbers: dict[object, int] = {}
    of_class: list[ShareTable | None] = []
    class_of_cause = np.zeros(len(shares), dtype=np.intp)
    for place, table in enumerate(shares):
        key = None if table is None else tuple(table.items())
        if key not in numbers:
            numbers[key] = len(of_class)
            of_class.append(table)
        class_of_cause[place] = numbers[key]
    return class_of_cause, of_class


def distribution(finding: Finding, table: Mapping[str, float]) -> Floats:
    """(answers,) chances of a knowledge base: the shares in the order of the answers, normalised to the sum 1."""
    values = np.array([table.get(a, 0.0) for a in finding.answer_ids], dtype=float)
    return np.asarray(values / values.sum())


def _share_tables(finding: Finding, shares: list[ShareTable | None], baseline: Floats, i: Ints, j: Ints) -> tuple[Floats, Floats]:
    """(U, answers) and (U * U, answers): one class, and the pairs (i, j), of a graded or an either-or finding."""
    unnamed = distribution(finding, finding.unnamed) if finding.unnamed else baseline
    single = np.array([unnamed if table is None else distribution(finding, table) for table in shares])
    if finding.combine is Combine.GRADED:
        return single, noisy_max(single[i], single[j], baseline)
    named = np.array([table is not None for table in shares])
    return single, even_mixture(single[i], single[j], named[i], named[j])


def noisy_max(one: Floats, other: Floats, baseline: Floats) -> Floats:
    """P(answer | both causes) by noisy-MAX (Díez 1993): the more abnormal answer wins.

    Each cause's distribution already contains the leak, which must count once; so with cumulative distributions F over the
    answers in rising abnormality, F = F1 * F2 / F0.

    Args:
        one: (N, answers) P(answer | first cause).
        other: (N, answers) P(answer | second cause).
        baseline: (answers,) the leak, P(answer | no cause that affects the finding).

    Returns:
        (N, answers), rows sum to 1.
    """
    leak = np.cumsum(baseline)
    joint = np.cumsum(one, axis=1) * np.cumsum(other, axis=1)
    cumulative = np.divide(joint, leak, out=np.zeros_like(joint), where=leak > 0)
    result = np.clip(np.diff(cumulative, axis=1, prepend=0.0), 0.0, None)
    return np.asarray(result / result.sum(axis=1, keepdims=True)) if len(result) else result


def even_mixture(one: Floats, other: Floats, named: Flags, other_named: Flags) -> Floats:
    """(N, answers) P(answer | both causes): half of each where both causes name the finding, else that of the one that does.

    `one`, `other`: (N, answers); `named`, `other_named`: (N,) whether the cause names the finding.
    """
    share = np.where(named & ~other_named, 1.0, np.where(other_named & ~named, 0.0, 0.5))[:, None]
    return np.asarray(share * one + (1 - share) * other)


def _ratio_tables(finding: Finding, shares: list[ShareTable | None], baseline: Floats, i: Ints, j: Ints) -> tuple[Floats, Floats]:
    """(U, answers) and (U * U, answers) of a history finding: the causes' ratios to the baseline multiply."""
    ratios = np.array([[(table or {}).get(a, 1.0) for a in finding.answer_ids] for table in shares])
    single = ratios * baseline
    pairs = ratios[i] * ratios[j] * baseline
    return _normalised(single, baseline), _normalised(pairs, baseline)


def _normalised(rows: Floats, fallback: Floats) -> Floats:
    """Rows that sum to 1; a row of zeros (ratios that exclude each other) becomes the fallback."""
    sums = rows.sum(axis=1, keepdims=True)
    return np.asarray(np.where(sums > 0, rows / np.where(sums > 0, sums, 1.0), fallback))


def misreport_matrix(count: int, rate: float) -> Floats:
    """(count, count) P(reported | true answer): 1 - `rate` on the diagonal, `rate` shared evenly by the other answers."""
    matrix = np.full((count, count), rate / (count - 1))
    np.fill_diagonal(matrix, 1 - rate)
    return matrix


LARGEST_CACHED_ARRAY = 500_000
"""Arrays of more numbers than this (4 MB) are not cached but computed again at each use (judgement)."""


class LazyTables(Mapping[str, Floats]):
    """A mapping from names to arrays that are computed on first use."""

    def __init__(self, names: Sequence[str], compute: Callable[[str], Floats]) -> None:
        self._names, self._compute = dict.fromkeys(names), compute
        self._cached: dict[str, Floats] = {}

    def __getitem__(self, name: str) -> Floats:
        if name in self._cached:
            return self._cached[name]
        if name not in self._names:
            raise KeyError(name)
        table = self._compute(name)
        if table.size <= LARGEST_CACHED_ARRAY:
            self._cached[name] = table
        return table

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)


class StackedTables:
    """P(answer | hypothesis) of many findings in one (R, H) array, a row for each answer of each finding.

    Selecting hypotheses from one array is much quicker than from a table of each finding.
    """

    def __init__(self, tables: Iterable[tuple[str, Floats]]) -> None:
        """`tables`: pairs of a finding and its (H, answers) table."""
        self._rows_of: dict[str, Ints] = {}
        rows: list[Floats] = []
        for name, table in tables:
            self._rows_of[name] = np.arange(len(rows), len(rows) + table.shape[1])
            rows.extend(table.T)
        self._rows = np.array(rows)

    def tables_of(self, findings: Sequence[str], hypotheses: Ints) -> list[Floats]:
        """For each finding its (N, answers) table of the N hypotheses with these indexes."""
        if not findings:
            return []
        places = [self._rows_of[name] for name in findings]
        rows = self._rows.take(np.concatenate(places), axis=0).take(hypotheses, axis=1)
        ends = np.cumsum([len(place) for place in places])
        return [part.T for part in np.split(rows, ends[:-1])]
