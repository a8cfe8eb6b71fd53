"""Expected weight of evidence: how well findings discriminate between causes, in decibans (10 log10 of the factor on the odds).

The answer to a question gives the weight of evidence 10 log10(P(answer | p) / P(answer | q)) for p against q. Expected under p
it is the Kullback-Leibler divergence of p from q in decibans (Good, "Probability and the Weighing of Evidence", 1950; Kullback &
Leibler 1951, "On Information and Sufficiency"); it is never negative. `expected_weight` is the one place where it is computed.

For one cause, q is all other machines that do not start. Between two causes the mean of both directions counts (half of Kullback
and Leibler's symmetric divergence J), so that it does not matter which of the two is present. Reported answers include
misreports.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from nopost.diagnosis.belief.hypotheses import Flags, Floats, Ints
from nopost.diagnosis.belief.likelihood import distribution
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.knowledge.model import Conditions, Knowledge

LEAST_DECIBANS = 0.05
"""An expected weight below this counts as none (judgement: it would be shown as 0.0)."""

LEAST_PROBABILITY = 1e-6
"""Stands for a probability of 0, whose weight of evidence would be infinite (judgement). Reported answers never come near it: the
schema demands misreports of 0.001 at least."""


def expected_weight(p: Floats, q: Floats) -> Floats:
    """Expected weight of evidence for each distribution of `p` against each of `q`, when the first is the true one.

    Args:
        p: (M, answers) probabilities.
        q: (N, answers) probabilities; those below LEAST_PROBABILITY count as that.

    Returns:
        (M, N) sum over answers of p 10 log10(p / q), in decibans, at least 0.
    """
    own = (p * _decibans(np.where(p > 0, p, 1.0))).sum(axis=1)
    return np.asarray(np.maximum(own[:, None] - p @ _decibans(np.maximum(q, LEAST_PROBABILITY)).T, 0.0))


def conditional_expected_weight(above: Floats, tables: Floats) -> Floats:
    """Expected weight of evidence of a finding whose parent's answer is known, the mean over the parent's answers.

    Args:
        above: (N, P) P(the parent's answer) under each of N causes.
        tables: (N, P, answers) P(answer | cause, the parent's answer).

    Returns:
        (N, N) the weight for each cause against each, when the first is there, in decibans, at least 0.
    """
    joint = (above[:, :, None] * tables).reshape(len(tables), -1)
    own = (joint * _decibans(np.where(tables > 0, tables, 1.0)).reshape(joint.shape)).sum(axis=1)
    cross = joint @ _decibans(np.maximum(tables, LEAST_PROBABILITY)).reshape(joint.shape).T
    return np.asarray(np.maximum(own[:, None] - cross, 0.0))


def _decibans(ratio: Floats) -> Floats:
    return np.asarray(10 * np.log10(ratio))


def _mean_of_both_directions(one_way: Floats) -> Floats:
    """(C, C) symmetric, from (C, C) one direction."""
    return np.asarray((one_way + one_way.T) / 2)


@dataclass(frozen=True)
class PairwiseWeights:
    """Expected decibans between each two of C causes, the mean of both directions.

    `questions`: the findings compared. `best_decibans` and `best_question`: (C, C) the most that one question gives, and its
    place in `questions` (the first of equal ones). `total_decibans`: (C, C) all questions together; of several in one tree of
    findings only the best counts, for they are dependent: the tree as a whole never gives less.
    """

    cause_index: dict[str, int]
    questions: tuple[str, ...]
    best_decibans: Floats
    best_question: Ints
    total_decibans: Floats

    def best_discriminator(self, one: str, other: str) -> str:
        """The question with the largest expected weight between two causes; "" when none has any."""
        place = self.cause_index[one], self.cause_index[other]
        return self.questions[self.best_question[place]] if self.best_decibans[place] > 0 else ""


def pairwise_weights(
    model: BeliefModel, questions: Collection[str], chance_asked: Callable[[str], Floats] | None = None
) -> PairwiseWeights:
    """The expected weights of these questions between each two causes; those that are not informative are left out.

    `chance_asked`: question -> (C,) P(it is asked | cause), by which each direction is multiplied; None: every one is asked.
    """
    names = tuple(name for name in questions if name in model.informative_findings)
    count = len(model.cause_index)
    best, best_question = np.zeros((count, count)), np.zeros((count, count), dtype=np.intp)
    by_tree: dict[str, Floats] = {}
    for place, name in enumerate(names):
        table = model.single_cause_table(name)
        one_way = expected_weight(table, table)
        if chance_asked is not None:
            one_way = one_way * chance_asked(name)[:, None]
        weights = _mean_of_both_directions(one_way)
        best_question = np.where(weights > best, place, best_question)
        best = np.maximum(weights, best)
        root = model.forest.root[name]
        by_tree[root] = np.maximum(by_tree[root], weights) if root in by_tree else weights
    total = sum(by_tree.values(), np.zeros((count, count)))
    return PairwiseWeights(dict(model.cause_index), names, best, best_question, total)


def pairwise_weights_when_asked(model: BeliefModel, questions: Collection[str]) -> PairwiseWeights:
    """The same in order of ids, each direction times the chance that the question is asked at all if that cause is present.

    A question is asked when its own conditions hold and those of its test.
    """
    knowledge = model.knowledge

    def chance_asked(name: str) -> Floats:
        finding = knowledge.findings[name]
        chance = _chance_that_holds(model, finding.when)
        return chance * _chance_that_holds(model, knowledge.actions[finding.action].when) if finding.action else chance

    return pairwise_weights(model, sorted(questions), chance_asked)


def _chance_that_holds(model: BeliefModel, when: Conditions) -> Floats:
    """(C,) P(conditions hold | cause), conditions taken as independent; those on facts of records are taken as given."""
    chance = np.ones(len(model.cause_index))
    for wanted, conditions in ((True, when.all), (False, when.none)):
        for condition in conditions:
            if condition.of_fact:
                continue
            index = model.answer_index[condition.name]
            columns = [index[value] for value in condition.values if value in index]
            holds = model.single_cause_table(condition.name)[:, columns].sum(axis=1)
            chance = chance * (holds if wanted else 1 - holds)
    return np.asarray(chance)


@dataclass(frozen=True, slots=True)
class WeightedLink:
    """A cause, a finding that it names, and the expected weight of the finding for the cause in decibans."""

    cause: str
    finding: str
    decibans: float


@dataclass(frozen=True, slots=True)
class Discriminator:
    """The question that tells a cause from an `other` one best, with its expected decibans.

    `answer`: text of the answer that speaks most for the cause; `probability` and `probability_other`: of this answer under the
    cause and under the other one.
    """

    other: str
    finding: str
    decibans: float
    answer: str
    probability: float
    probability_other: float


class ExpectedWeightModel:
    """Expected weights of evidence of one knowledge base, every question taken as asked."""

    def __init__(self, model: BeliefModel) -> None:
        self.model = model
        self._prior = np.exp(model.hypotheses.log_prior)

    def links_of(self, cause: str, most: int = 0) -> list[WeightedLink]:
        """The links of a cause to the findings that it names, the largest weight first; at most `most` of them (0: all)."""
        named = self.model.knowledge.causes[cause].named_findings
        links = [WeightedLink(cause, finding, self.decibans(cause, finding)) for finding in named]
        kept = sorted((x for x in links if x.decibans >= LEAST_DECIBANS), key=lambda x: (-x.decibans, x.finding))
        return kept[:most] if most else kept

    def decibans(self, cause: str, finding: str) -> float:
        """Expected weight of a finding for a cause against all other hypotheses, when the cause is present."""
        has_cause = self.model.hypotheses.has(self.model.cause_index[cause])
        table = self.model.reported_answer_tables[finding]
        with_cause, without = self._mean_distribution(has_cause, table), self._mean_distribution(~has_cause, table)
        return float(expected_weight(with_cause[None], without[None])[0, 0])

    def answer_distributions(self, cause: str, finding: str) -> tuple[Floats, Floats]:
        """(answers,) each: P(reported answer) with this cause alone, and when no cause affects the finding."""
        with_cause = self.model.single_cause_table(finding)[self.model.cause_index[cause]]
        return with_cause, self._usual(finding) @ self.model.misreports(finding)

    def _usual(self, finding: str) -> Floats:
        """(answers,) P(true answer) when no cause affects the finding, nor what an instrument reads."""
        item = self.model.knowledge.findings[finding]
        if item.reads is None:
            return distribution(item, item.baseline)
        parent = self.model.knowledge.findings[item.reads.finding]
        rows = np.array([distribution(item, item.reads.table[answer]) for answer in parent.answer_ids])
        return np.asarray(self._usual(parent.id) @ rows)

    def hardest_to_distinguish(self, cause: str, count: int) -> list[str]:
        """The `count` other causes with the least expected decibans from this one over all true answers together."""
        decibans = self._by_true_answers[self.model.cause_index[cause]]
        others = [c for c in self.model.hypotheses.causes if c != cause]
        return sorted(others, key=lambda other: (float(decibans[self.model.cause_index[other]]), other))[:count]

    def best_discriminator(self, cause: str, other: str) -> Discriminator | None:
        """The question with the largest expected weight between two causes; None when all are below LEAST_DECIBANS."""
        place = self.model.cause_index[cause], self.model.cause_index[other]
        decibans = float(self._by_questions.best_decibans[place])
        if decibans < LEAST_DECIBANS:
            return None
        finding = self._by_questions.best_discriminator(cause, other)
        of_cause, of_other = self.model.single_cause_table(finding)[list(place)]
        k = int(np.argmax(of_cause - of_other))
        answer = self.model.knowledge.findings[finding].answers[k].text
        return Discriminator(other, finding, decibans, answer, float(of_cause[k]), float(of_other[k]))

    @cached_property
    def _by_questions(self) -> PairwiseWeights:
        """By the reported answers to everything that has a question."""
        return pairwise_weights(self.model, [f.id for f in self.model.knowledge.findings.values() if f.question])

    @cached_property
    def _by_true_answers(self) -> Floats:
        """(C, C) by the true answers of all findings, without misreports.

        By the chain rule of the Kullback-Leibler divergence (Cover & Thomas, "Elements of Information Theory", theorem 2.5.3)
        it is a sum over findings, each given its parent's answer; what instruments show adds nothing.
        """
        model = self.model
        weights = []
        for name, parent in model.forest.parent.items():
            if parent and model.knowledge.findings[name].reads:
                continue
            table = (
                model.forest.conditional_of_single_causes(name) if parent else model.true_answers_of_single_causes(name)[:, None]
            )
            above = model.true_answers_of_single_causes(parent) if parent else np.ones((len(table), 1))
            weights.append(_mean_of_both_directions(conditional_expected_weight(above, table)))
        return np.asarray(sum(weights, start=np.zeros((len(model.cause_index),) * 2)))

    def _mean_distribution(self, chosen: Flags, table: Floats) -> Floats:
        """(answers,) P(answer | one of the (H,) chosen hypotheses), by their priors."""
        weights = np.where(chosen, self._prior, 0.0)
        return np.asarray(weights @ table / max(weights.sum(), 1e-300))


def causes_per_thousand(knowledge: Knowledge) -> dict[str, float]:
    """Cause -> how many of a thousand machines that do not start have it, among single listed causes."""
    total = sum(cause.weight for cause in knowledge.causes.values())
    return {name: 1000 * cause.weight / total for name, cause in knowledge.causes.items()}


def strongest_links(weights: ExpectedWeightModel, causes: Iterable[str], most: int) -> list[WeightedLink]:
    """The `most` links with the largest weight of each of these causes."""
    return [link for cause in causes for link in weights.links_of(cause, most)]
