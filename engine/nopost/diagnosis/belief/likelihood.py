"""P(answer | hypothesis) for every finding, compiled once from a knowledge base.

A finding that is not an instrument has a true answer with a distribution per hypothesis; what a person reports, or what an
instrument shows, passes through an observation model. Two causes meet by noisy-MAX along the finding's order (Díez 1993,
"Parameter adjustment in Bayes networks: the generalized noisy OR-gate", UAI), by multiplying ratios, or by an even mixture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.belief.hypotheses import Flags, Floats, Hypotheses, Ints
from nopost.knowledge.model import Base, Cause, Combine, Finding

ShareTable = Mapping[str, float]


@dataclass(frozen=True)
class ObservationModel:
    """How a finding's reported answers come from the true answers of `target` (itself, or what it reads).

    `matrix`: (true answers of target, reported answers), rows sum to 1.
    """

    target: str
    matrix: Floats


@dataclass(frozen=True)
class AnswerLikelihood:
    """P(answer | hypothesis) of a finding in little room: causes that show the same of it are of one kind.

    `kind`: (C,) the kind of each cause; `single`: (U, answers) by kind; `pair`: (U, U, answers) by the kinds of both causes;
    `unlisted`: (answers,).
    """

    kind: Ints
    single: Floats
    pair: Floats
    unlisted: Floats

    def table(self, h: Hypotheses) -> Floats:
        """(H, answers) for every hypothesis."""
        return self._each(h, self.single, self.pair, self.unlisted)

    def alone(self) -> Floats:
        """(C, answers) for each cause alone."""
        return np.asarray(self.single[self.kind])

    def chance(self, h: Hypotheses, seen: Floats) -> Floats:
        """(H,) P(what was seen | hypothesis); `seen`: (answers,) P(what was seen | answer)."""
        return self._each(h, self.single @ seen, self.pair @ seen, self.unlisted @ seen)

    def given(self, seen: Floats) -> AnswerLikelihood:
        """The same once something was seen of it."""
        rows = (rows * seen for rows in (self.single, self.pair, self.unlisted))
        return AnswerLikelihood(self.kind, *(row / row.sum(axis=-1, keepdims=True) for row in rows))

    def through(self, channel: ObservationModel) -> AnswerLikelihood:
        """What is reported of it, or shown by an instrument."""
        return AnswerLikelihood(self.kind, *(rows @ channel.matrix for rows in (self.single, self.pair, self.unlisted)))

    def spread(self) -> float:
        """Most that the probability of an answer differs between hypotheses."""
        rows = np.vstack([self.single, self.pair.reshape(-1, len(self.unlisted)), self.unlisted])
        return float(np.ptp(rows, axis=0).max())

    def _each(self, h: Hypotheses, single: Floats, pair: Floats, unlisted: Floats) -> Floats:
        pairs = pair[self.kind[h.first[h.pairs]], self.kind[h.second[h.pairs]]]
        return np.concatenate([single[self.kind], pairs, np.asarray(unlisted)[None]])


def answer_likelihood(finding: Finding, causes: Mapping[str, Cause], h: Hypotheses, base: Base) -> AnswerLikelihood:
    """P(true answer | hypothesis) of a finding that is not an instrument."""
    baseline = _vector(finding, finding.baseline)
    kind, kinds = _kinds([causes[name].shows.get(finding.id) for name in h.causes])
    i, j = np.indices((len(kinds), len(kinds))).reshape(2, -1)
    if finding.combine is Combine.HISTORY:
        single, pairs = _history(finding, kinds, baseline, i, j)
    else:
        single, pairs = _distributions(finding, kinds, baseline, i, j)
    weights = np.exp(h.log_prior[: len(h.causes)])
    mean = weights @ single[kind] / weights.sum()
    spread = base.unlisted_spread
    unlisted = (1 - spread) * mean + spread / len(baseline)
    return AnswerLikelihood(kind, single, pairs.reshape(len(kinds), len(kinds), -1), unlisted)


def _kinds(shown: Sequence[ShareTable | None]) -> tuple[Ints, list[ShareTable | None]]:
    """(C,) the kind of each cause, and what each kind shows."""
    numbers: dict[object, int] = {}
    kinds: list[ShareTable | None] = []
    kind = np.zeros(len(shown), dtype=np.intp)
    for place, table in enumerate(shown):
        key = None if table is None else tuple(table.items())
        if key not in numbers:
            numbers[key] = len(kinds)
            kinds.append(table)
        kind[place] = numbers[key]
    return kind, kinds


def _vector(finding: Finding, table: Mapping[str, float]) -> Floats:
    values = np.array([table.get(a, 0.0) for a in finding.answer_ids], dtype=float)
    return np.asarray(values / values.sum())


def _distributions(finding: Finding, shown: list[ShareTable | None], baseline: Floats, i: Ints, j: Ints) -> tuple[Floats, Floats]:
    """Single kinds and pairs of kinds of a graded or an either finding."""
    unnamed = _vector(finding, finding.unnamed) if finding.unnamed else baseline
    single = np.array([unnamed if table is None else _vector(finding, table) for table in shown])
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


def _history(finding: Finding, shown: list[ShareTable | None], baseline: Floats, i: Ints, j: Ints) -> tuple[Floats, Floats]:
    """Ratios to the baseline multiply and are renormalised."""
    ratios = np.array([[(table or {}).get(a, 1.0) for a in finding.answer_ids] for table in shown])
    single = ratios * baseline
    pairs = ratios[i] * ratios[j] * baseline
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


def observation_model(finding: Finding, findings: Mapping[str, Finding]) -> ObservationModel:
    """The channel through which a finding is reported."""
    own = misreport_matrix(len(finding.answers), finding.misreport)
    if finding.reads is None:
        return ObservationModel(finding.id, own)
    target = findings[finding.reads.finding]
    table = np.array([_vector(finding, finding.reads.table[a]) for a in target.answer_ids])
    return ObservationModel(target.id, table @ own)


LARGEST_KEPT = 500_000
"""Numbers of one array that are kept; larger ones are made anew each time."""


class LazyTables(Mapping[str, Floats]):
    """Name -> array."""

    def __init__(self, names: Sequence[str], make: Callable[[str], Floats]) -> None:
        self._names, self._make = dict.fromkeys(names), make
        self._made: dict[str, Floats] = {}

    def __getitem__(self, name: str) -> Floats:
        if name in self._made:
            return self._made[name]
        if name not in self._names:
            raise KeyError(name)
        made = self._make(name)
        if made.size <= LARGEST_KEPT:
            self._made[name] = made
        return made

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)


class StackedTables:
    """P(answer | hypothesis): one row for each answer of each finding, (R, H) in all."""

    def __init__(self, tables: Iterable[tuple[str, Floats]]) -> None:
        """`tables`: (finding, (H, answers)), each looked at once."""
        self._place: dict[str, Ints] = {}
        rows: list[Floats] = []
        for name, table in tables:
            self._place[name] = np.arange(len(rows), len(rows) + table.shape[1])
            rows.extend(table.T)
        self._rows = np.array(rows)

    def of(self, findings: Sequence[str], hypotheses: Ints) -> list[Floats]:
        """For each finding the table of these hypotheses: (N, answers)."""
        if not findings:
            return []
        places = [self._place[name] for name in findings]
        rows = self._rows.take(np.concatenate(places), axis=0).take(hypotheses, axis=1)
        ends = np.cumsum([len(place) for place in places])
        return [part.T for part in np.split(rows, ends[:-1])]
