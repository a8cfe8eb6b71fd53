"""One finding as a node of the Bayesian network: P(true answer | hypothesis, the parent's answer), and what passes through it.

A finding with a parent gives P(a | pa), the distribution of its answers over all machines with that answer of the parent. The
causes give P(a | h) as for any other finding. Of the two comes P(a | h, pa) = P(a | pa) r(a | h) / Z(h, pa), with ratios r that
do not depend on the parent's answer and the sum Z over the answers: the cause changes the odds of the answers, and the parent's
answer changes them, each as if the other were not there (no interaction of all three, as in a log-linear model).

* In a finding of the history the ratios are those of the cause's file: they apply to the parent's conditional baseline.
* Elsewhere a cause's file says how many machines with this cause show each answer, P(a | h), and that stays true: the ratios are
  fitted so that the sum of P(pa | h) P(a | h, pa) over the parent's answers is P(a | h). This is iterative proportional fitting
  (Deming & Stephan 1940, Annals of Mathematical Statistics 11; Bishop, Fienberg & Holland, "Discrete Multivariate Analysis",
  1975, section 3.5) of the joint table of both answers, from P(a | pa), to what both findings say of the cause.
* An instrument is the node whose ratios are all 1.

So no table over hypotheses and both answers is ever needed: what passes from the child to the parent, or back, is two products of
small matrices. Networks with one such parent besides the class are Friedman, Geiger & Goldszmidt's (1997, "Bayesian Network
Classifiers", Machine Learning 29), tree-augmented naive Bayes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from nopost.diagnosis.belief.hypotheses import Flags, Floats, Hypotheses, Ints
from nopost.diagnosis.belief.likelihood import AnswerLikelihood, distribution, misreport_matrix
from nopost.knowledge.model import Cause, Finding


class HypothesisRows(NamedTuple):
    """K hypotheses by their causes.

    `first`, `second`: (K,) indexes of the causes, -1 in both for unlisted; `second` is not used for a single cause. `paired`:
    (K,) whether it is a pair.
    """

    first: Ints
    second: Ints
    paired: Flags

    @classmethod
    def of(cls, hypotheses: Hypotheses, chosen: Ints | None = None) -> HypothesisRows:
        """These of the hypotheses; all of them when nothing is chosen."""
        first, second = hypotheses.first, hypotheses.second
        if chosen is not None:
            first, second = first[chosen], second[chosen]
        return cls(first, second, first != second)

    @classmethod
    def single(cls, count: int) -> HypothesisRows:
        """Each of so many causes alone."""
        causes = np.arange(count)
        return cls(causes, causes, np.zeros(count, dtype=bool))

    @classmethod
    def of_classes(cls, class_of_cause: Ints) -> HypothesisRows:
        """One cause of each of U classes, two causes of each U x U pair of classes, unlisted: U + U * U + 1 in all."""
        _, members = np.unique(class_of_cause, return_index=True)
        i, j = np.indices((len(members), len(members))).reshape(2, -1)
        first = np.concatenate([members, members[i], [-1]])
        second = np.concatenate([members, members[j], [-1]])
        paired = np.zeros(len(first), dtype=bool)
        paired[len(members) : -1] = True
        return cls(first, second, paired)

    def places(self, class_of_cause: Ints, classes: int) -> Ints:
        """(K,) place of each among the U + U * U + 1 rows by class, in the order of `of_classes`."""
        one = class_of_cause[self.first]
        other = class_of_cause[self.second]
        place = np.where(self.paired, classes + one * classes + other, one)
        return np.where(self.first < 0, classes + classes * classes, place)


@dataclass(frozen=True)
class FindingNode:
    """P(true answer | hypothesis, the parent's answer) of one finding, by classes of causes.

    `class_of_cause`: (C,) class of each cause, U of them; rows by class are in the order of `HypothesisRows.of_classes`.
    `ratios`: (rows, answers) r(a | h), up to a factor for each row; without a parent P(a | h) itself. `given`: (the parent's
    answers, answers) P(a | pa), or None. `normaliser`: (rows, the parent's answers) Z(h, pa). `special_place`: (rows,) place in
    `special`, or -1: rows that are not of this form, because a cause gives them outright. `special`: (S, the parent's answers,
    answers) such rows. `misreports`: (answers, answers) P(reported | true answer).
    """

    class_of_cause: Ints
    classes: int
    ratios: Floats
    misreports: Floats
    given: Floats | None = None
    normaliser: Floats | None = None
    special_place: Ints | None = None
    special: Floats | None = None

    def places(self, rows: HypothesisRows) -> Ints:
        """(K,) the rows of these hypotheses."""
        return rows.places(self.class_of_cause, self.classes)

    @property
    def size(self) -> int:
        """Numbers that it holds."""
        return sum(part.size for part in (self.ratios, self.normaliser, self.special) if part is not None)

    def prior(self, places: Ints) -> Floats:
        """(K, answers) P(true answer | hypothesis) of a node without a parent."""
        return np.asarray(self.ratios.take(places, axis=0))

    def to_parent(self, places: Ints, weights: Floats) -> Floats:
        """(K, the parent's answers) sum over answers of P(a | h, pa) w(a), from (answers,) or (K, answers) weights."""
        assert self.given is not None
        assert self.normaliser is not None
        result = (self.ratios.take(places, axis=0) * weights) @ self.given.T
        result /= self.normaliser.take(places, axis=0)
        chosen, tables = self._special(places)
        if len(chosen):
            of_chosen = weights if weights.ndim == 1 else weights[chosen]
            result[chosen] = np.einsum("kpa,ka->kp", tables, np.broadcast_to(of_chosen, tables.shape[::2]))
        return np.asarray(result)

    def from_parent(self, places: Ints, parent: Floats) -> Floats:
        """(K, answers) sum over the parent's answers of P(a | h, pa) p(pa), from (K, the parent's answers)."""
        assert self.given is not None
        assert self.normaliser is not None
        result = (parent / self.normaliser.take(places, axis=0)) @ self.given
        result *= self.ratios.take(places, axis=0)
        chosen, tables = self._special(places)
        if len(chosen):
            result[chosen] = np.einsum("kpa,kp->ka", tables, parent[chosen])
        return np.asarray(result)

    def conditional(self, places: Ints) -> Floats:
        """(K, the parent's answers, answers) P(a | h, pa)."""
        assert self.given is not None
        assert self.normaliser is not None
        result = self.ratios.take(places, axis=0)[:, None] * self.given / self.normaliser.take(places, axis=0)[..., None]
        chosen, tables = self._special(places)
        result[chosen] = tables
        return np.asarray(result)

    def _special(self, places: Ints) -> tuple[Ints, Floats]:
        """(S,) which of these have a table of their own, and (S, the parent's answers, answers) the tables."""
        assert self.special_place is not None
        assert self.special is not None
        if not len(self.special):
            return np.zeros(0, dtype=np.intp), self.special
        place = self.special_place.take(places)
        chosen = np.flatnonzero(place >= 0)
        return chosen, self.special[place[chosen]]


def root_node(finding: Finding, likelihood: AnswerLikelihood) -> FindingNode:
    """The node of a finding without a parent."""
    return FindingNode(likelihood.class_of_cause, len(likelihood.by_class), likelihood.stacked(), misreports(finding))


def instrument_node(finding: Finding, parent: Finding, cause_count: int) -> FindingNode:
    """The node of an instrument: its answers depend on what it reads alone."""
    assert finding.reads is not None
    given = _given(finding, parent, finding.reads.table)
    ratios = np.ones((len(HypothesisRows.of_classes(ONE_CLASS).first), len(finding.answers)))
    return _child(finding, np.zeros(cause_count, dtype=np.intp), ratios, given, Outright.nothing(len(ONE_CLASS)))


def child_node(
    finding: Finding,
    parent: Finding,
    causes: Sequence[Cause],
    likelihood: AnswerLikelihood,
    classes_above: Ints,
    above: Callable[[HypothesisRows], Floats],
) -> FindingNode:
    """The node of a finding with a parent.

    Args:
        finding: the finding.
        parent: its parent.
        causes: all C causes in order.
        likelihood: P(a | h) of the finding as the causes give it.
        classes_above: (C,) classes of causes that have the same effect on the parent and on all above it.
        above: gives (K, the parent's answers) P(pa | h) for K hypotheses.
    """
    outright = Outright.of_causes(finding, parent, causes)
    is_history = finding.is_past
    known = [likelihood.class_of_cause] if is_history else [likelihood.class_of_cause, classes_above]
    class_of_cause, members = _finer_classes(known, outright)
    rows = HypothesisRows.of_classes(class_of_cause)
    table = likelihood.stacked()[rows.places(likelihood.class_of_cause, len(likelihood.by_class))]
    given = _given(finding, parent, finding.given)
    ratios = table / distribution(finding, finding.baseline) if is_history else fitted_ratios(table, above(rows), given)
    return _child(finding, class_of_cause, ratios, given, outright.of_members(members))


MOST_FITTING_STEPS = 100
"""Fitting ends after so many steps when the tables cannot be brought together (judgement; agreement comes within about 20)."""
FITTED = 1e-13
"""Fitting ends when no ratio changes by more than this part of itself."""


def fitted_ratios(own: Floats, above: Floats, given: Floats) -> Floats:
    """The ratios r with which the sum over pa of P(pa | h) P(a | pa) r(a | h) / Z(h, pa) is P(a | h), in each row.

    Args:
        own: (K, answers) P(a | h).
        above: (K, the parent's answers) P(pa | h).
        given: (the parent's answers, answers) P(a | pa).

    Returns:
        (K, answers) ratios, the largest of each row 1. Where zeros in the tables make agreement impossible, the last step.
    """
    ratios: Floats = own / own.max(axis=1, keepdims=True)
    going = np.arange(len(own))
    for _ in range(MOST_FITTING_STEPS):
        before = ratios[going]
        share = _shares(above[going], before @ given.T) @ given
        after = np.divide(own[going], share, out=np.zeros_like(share), where=share > 0)
        after /= np.maximum(after.max(axis=1, keepdims=True), LEAST_RATIO)
        after = np.where(own[going] > 0, np.maximum(after, LEAST_RATIO), 0.0)
        ratios[going] = after
        going = going[(np.abs(after - before) > FITTED * after).any(axis=1)]
        if not len(going):
            break
    return ratios


LEAST_RATIO = 1e-30
"""A ratio of an answer that a cause can show is at least this part of the largest: zeros in P(a | pa) may contradict what a cause
shows, and fitting would drive ratios to 0 without end."""


def _shares(above: Floats, normaliser: Floats) -> Floats:
    """(K, the parent's answers) P(pa | h) / Z(h, pa), 0 where Z is."""
    return np.asarray(np.divide(above, normaliser, out=np.zeros_like(above), where=normaliser > 0))


ONE_CLASS = np.zeros(1, dtype=np.intp)
"""The class of every cause, when they all have the same effect."""


@dataclass(frozen=True)
class Outright:
    """What N causes say outright of P(a | cause, pa).

    `rows`: (N, the parent's answers, answers), `given`: (N, the parent's answers) whether the cause gives that row; `named`: (N,)
    whether the cause names the finding at all.
    """

    rows: Floats
    given: Flags
    named: Flags

    @classmethod
    def nothing(cls, count: int) -> Outright:
        """So many causes that say nothing outright."""
        return cls(np.zeros((count, 0, 0)), np.zeros((count, 0), dtype=bool), np.zeros(count, dtype=bool))

    @classmethod
    def of_causes(cls, finding: Finding, parent: Finding, causes: Sequence[Cause]) -> Outright:
        """What these causes say of a finding."""
        said = [cause.shows_given.get(finding.id, {}) for cause in causes]
        named = np.array([bool(said[k]) or finding.id in cause.shows for k, cause in enumerate(causes)])
        given = np.array([[answer in rows for answer in parent.answer_ids] for rows in said])
        rows = np.zeros((*given.shape, len(finding.answers)))
        for k, p in np.argwhere(given):
            rows[k, p] = distribution(finding, said[k][parent.answer_ids[p]])
        return cls(rows, given, named)

    def of_members(self, members: Ints) -> Outright:
        """What the causes with these indexes say."""
        return Outright(self.rows[members], self.given[members], self.named[members])


def _finer_classes(known: Sequence[Ints], outright: Outright) -> tuple[Ints, Ints]:
    """(C,) classes of causes that agree in all these classes and in what they say outright, and (U,) one cause of each."""
    said = outright.rows.reshape(len(outright.named), -1)
    keys = np.column_stack([*known, outright.named, outright.given, said])
    _, members, classes = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    return classes.reshape(-1).astype(np.intp), members


def _child(finding: Finding, class_of_cause: Ints, ratios: Floats, given: Floats, outright: Outright) -> FindingNode:
    """The node from (rows, answers) ratios, (the parent's answers, answers) P(a | pa) and what each class says outright."""
    classes = len(outright.named)
    normaliser = ratios @ given.T
    impossible = normaliser <= 0
    normaliser[impossible] = 1.0
    said = outright.given.any(axis=1)
    said_in_row = np.concatenate([said, np.logical_or.outer(said, said).reshape(-1), [False]])
    places = np.flatnonzero(impossible.any(axis=1) | said_in_row)
    special_place = np.full(len(ratios), -1, dtype=np.intp)
    special_place[places] = np.arange(len(places))
    formula = ratios[places, None] * given / normaliser[places][..., None]
    special = np.where(impossible[places][..., None], given, formula)
    if said.any():
        single = ratios[:classes, None] * given / normaliser[:classes][..., None]
        single = np.where(outright.given[..., None], outright.rows, np.where(impossible[:classes][..., None], given, single))
        for number, place in enumerate(places.tolist()):
            special[number] = _row_said_outright(place, special[number], single, outright)
    return FindingNode(
        class_of_cause, classes, ratios, misreports(finding), given, normaliser, special_place, np.ascontiguousarray(special)
    )


def _row_said_outright(place: int, formula: Floats, single: Floats, outright: Outright) -> Floats:
    """(the parent's answers, answers) P(a | h, pa) of one row by class.

    What a cause gives outright counts. In a pair it is, for each answer of the parent that one of the two gives, the even mixture
    of what both show alone when both name the finding, else what the one shows that names it. `formula`: what holds otherwise.
    """
    classes = len(single)
    if place < classes:
        return np.asarray(single[place])
    if place == classes + classes * classes:
        return formula
    one, other = divmod(place - classes, classes)
    share = 0.5 if outright.named[one] == outright.named[other] else float(outright.named[one])
    mixed = share * single[one] + (1 - share) * single[other]
    said = outright.given[one] | outright.given[other]
    return np.asarray(np.where(said[:, None], mixed, formula))


def _given(finding: Finding, parent: Finding, table: Mapping[str, Mapping[str, float]]) -> Floats:
    """(the parent's answers, answers) P(a | pa)."""
    return np.array([distribution(finding, table[answer]) for answer in parent.answer_ids])


def misreports(finding: Finding) -> Floats:
    """(answers, answers) P(reported | true answer) of a finding."""
    return misreport_matrix(len(finding.answers), finding.misreport)
