"""The belief model of a knowledge base: arrays compiled once, and the posterior as a function of the evidence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np

from nopost.diagnosis.belief.evidence import UNINFORMATIVE_ANSWERS, Evidence, RepairHistory, Report
from nopost.diagnosis.belief.hypotheses import Floats, Ints, build_hypotheses
from nopost.diagnosis.belief.likelihood import (
    LARGEST_CACHED_ARRAY,
    AnswerLikelihood,
    LazyTables,
    StackedTables,
    build_answer_likelihood,
    observation_model,
)
from nopost.knowledge.model import Knowledge

LEAST_PERSISTENCE = 0.005
"""A fix done once may have been done badly: each cause persists with at least this probability (judgement)."""
LEAST_DIFFERENCE = 1e-12
"""A finding is informative when the probability of an answer differs by more than this; less is rounding."""
NATS_PER_DECIBAN = np.log(10) / 10
"""One deciban as a natural logarithm: a tenth of a factor of ten on the odds (Good, "Probability and the Weighing of Evidence",
1950)."""


class BeliefModel:
    """Hypotheses, likelihoods and repair probabilities of one knowledge base.

    Attributes:
        hypotheses: H hypotheses over C causes, with their priors.
        cause_index: id of a cause -> its index.
        answer_index: id of a finding -> answer -> its index.
        observation_models: id of a finding -> how its reported answers come from true answers.
        true_answer_tables: id of a finding that is no instrument -> (H, answers) P(true answer | hypothesis).
        reported_answer_tables: id of a finding -> (H, answers) P(reported answer | hypothesis).

    Tables are computed on first use. What is computed over all hypotheses uses `AnswerLikelihood` instead, which stores each
    class of causes once, so that a large knowledge base needs no such tables.
    """

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.hypotheses = build_hypotheses(knowledge.causes, knowledge.base)
        self.cause_index = {name: k for k, name in enumerate(self.hypotheses.causes)}
        self.observation_models = {f.id: observation_model(f, knowledge.findings) for f in knowledge.findings.values()}
        self._answer_likelihoods: dict[str, AnswerLikelihood] = {}
        self.true_answer_tables = LazyTables(
            [f.id for f in knowledge.findings.values() if f.reads is None],
            lambda finding: self.answer_likelihood(finding).table(self.hypotheses),
        )
        self.reported_answer_tables = LazyTables(list(knowledge.findings), self._reported_answer_table)
        self.answer_index = {f.id: {answer: k for k, answer in enumerate(f.answer_ids)} for f in knowledge.findings.values()}
        repairs = {action for cause in knowledge.causes.values() for action in cause.fixes}
        self._persistence = {a: np.maximum(1 - self.repair_probabilities([a])[:, 0], LEAST_PERSISTENCE) for a in repairs}

    @cached_property
    def informative_findings(self) -> frozenset[str]:
        """Findings whose reported answers do not have the same probability under all hypotheses."""
        return frozenset(
            name
            for name, observation in self.observation_models.items()
            if self.answer_likelihood(observation.target).observed_through(observation).largest_difference() > LEAST_DIFFERENCE
        )

    def answer_likelihood(self, finding: str) -> AnswerLikelihood:
        """P(true answer | hypothesis) of a finding that is not an instrument."""
        if finding not in self._answer_likelihoods:
            knowledge = self.knowledge
            likelihood = build_answer_likelihood(knowledge.findings[finding], knowledge.causes, self.hypotheses, knowledge.base)
            if likelihood.by_class_pair.size > LARGEST_CACHED_ARRAY:
                return likelihood
            self._answer_likelihoods[finding] = likelihood
        return self._answer_likelihoods[finding]

    def single_cause_table(self, finding: str) -> Floats:
        """(C, answers) P(reported answer | this cause alone)."""
        observation = self.observation_models[finding]
        return self.answer_likelihood(observation.target).observed_through(observation).single_cause_table()

    def _reported_answer_table(self, finding: str) -> Floats:
        """(H, answers) P(reported answer | hypothesis)."""
        observation = self.observation_models[finding]
        return self.true_answer_tables[observation.target] @ observation.matrix

    def repair_probabilities(self, actions: Sequence[str]) -> Floats:
        """(C, actions) probability that each action removes each cause."""
        fixes = [self.knowledge.causes[c].fixes for c in self.hypotheses.causes]
        return np.array([[of_cause.get(a, 0.0) for a in actions] for of_cause in fixes]).reshape(len(fixes), -1)

    def log_posterior(self, evidence: Evidence) -> Floats:
        """(H,) natural logarithm of the posterior of what was present at the start, normalised."""
        total = self.log_joint(evidence)
        return np.asarray(total - log_sum_exp(total))

    def posterior(self, evidence: Evidence) -> Floats:
        """(H,) posterior probabilities of what was present at the start; they sum to 1."""
        return np.asarray(np.exp(self.log_posterior(evidence)))

    def log_joint(self, evidence: Evidence) -> Floats:
        """(H,) natural logarithm of prior times likelihood of all evidence; -inf for what a rule excludes."""
        total = self.hypotheses.log_prior + self.log_likelihood(evidence)
        for cause, decibans, _ in evidence.rule_weights:
            total = total + decibans * NATS_PER_DECIBAN * self.hypotheses.has(self.cause_index[cause])
        for cause in evidence.ruled_out:
            total = np.where(self.hypotheses.has(self.cause_index[cause]), -np.inf, total)
        return np.asarray(total)

    def persistence(self, failed_repairs: Sequence[str]) -> Floats:
        """(C,) P(the cause is present after all of these fixes | it was present)."""
        result = np.ones(len(self.hypotheses.causes))
        for action in failed_repairs:
            result *= self._persistence.get(action, 1.0)
        return result

    def log_likelihood(self, evidence: Evidence) -> Floats:
        """(H,) log P(reports and failed repairs | hypothesis at the start)."""
        if evidence.failed_repairs:
            return self.repair_history(evidence).total_log_likelihood()
        return self.log_report_likelihood([r for r in evidence.reports if not r.epoch])

    def repair_history(self, evidence: Evidence) -> RepairHistory:
        """The reports in order, and that the machine still does not start after each fix."""
        epochs = _by_epoch(evidence.reports)
        history = RepairHistory.start(self.hypotheses).observe(self.log_report_likelihood(epochs.get(0, ())))
        for epoch, action in enumerate(evidence.failed_repairs, start=1):
            log_likelihood = self.log_report_likelihood(epochs.get(epoch, ()), evidence.still_valid(epoch))
            history = history.fix_failed(self.persistence([action])).observe(log_likelihood)
        return history

    def current_posterior(self, posterior: Floats, evidence: Evidence) -> Floats:
        """(H,) probabilities of what is still wrong after the failed repairs; a pair may have become a single cause."""
        return self.repair_history(evidence).current_posterior(posterior) if evidence.failed_repairs else posterior

    def log_report_likelihood(self, reports: Sequence[Report], still_valid: Sequence[Report] = ()) -> Floats:
        """(H,) log P(reports of one epoch | what is present, earlier reports that are still valid).

        Several reports of one target are dependent, for they come from one true answer. A report of a finding replaces an
        earlier one of the same finding.
        """
        total = np.zeros(len(self.hypotheses.first))
        repeated = {report.finding for report in reports}
        earlier = self._report_likelihoods([r for r in still_valid if r.finding not in repeated])
        for target, given_answer in self._report_likelihoods(reports).items():
            likelihood = self.answer_likelihood(target)
            if target in earlier:
                joint = likelihood.likelihood_of_reports(self.hypotheses, given_answer * earlier[target])
                total += np.log(joint) - np.log(likelihood.likelihood_of_reports(self.hypotheses, earlier[target]))
            else:
                total += np.log(likelihood.likelihood_of_reports(self.hypotheses, given_answer))
        return total

    def _report_likelihoods(self, reports: Sequence[Report]) -> dict[str, Floats]:
        """Target of observation -> (its answers,) P(all reports of it | true answer)."""
        result: dict[str, Floats] = {}
        for report in reports:
            observation = self.observation_models[report.finding]
            column = observation.matrix[:, self.answer_index[report.finding][report.answer]]
            result[observation.target] = result[observation.target] * column if observation.target in result else column
        return result

    def predict_from_initial_faults(self, finding: str, evidence: Evidence) -> Floats:
        """(H, answers) P(reported answer | hypothesis at the start, evidence): goes with `posterior`.

        After a failed repair a pair predicts by what remains of it.
        """
        table = self.predict_from_current_faults(finding, evidence)
        if not evidence.failed_repairs:
            return table
        both, only_first, only_second = self.repair_history(evidence).remaining_of_pairs()[:, :, None]
        pairs = self.hypotheses.pairs
        i, j = self.hypotheses.first[pairs], self.hypotheses.second[pairs]
        result = table.copy()
        result[pairs] = both * table[pairs] + only_first * table[i] + only_second * table[j]
        return result

    def predict_from_current_faults(self, finding: str, evidence: Evidence) -> Floats:
        """(H, answers) P(reported answer | what is present now, evidence): goes with `current_posterior`."""
        return self.predicted_likelihood(finding, evidence).table(self.hypotheses)

    def predict_many(self, findings: Sequence[str], evidence: Evidence, hypotheses: Ints) -> list[Floats]:
        """`predict_from_current_faults` of many findings, (N, answers) each, for the N hypotheses with these indexes."""
        tables = self._stacked_tables.tables_of(findings, hypotheses)
        return [
            self.predict_from_current_faults(finding, evidence)[hypotheses]
            if self._reports_of_same_target(finding, evidence)
            else table
            for finding, table in zip(findings, tables, strict=True)
        ]

    @cached_property
    def _stacked_tables(self) -> StackedTables:
        """Tables without any evidence."""
        return StackedTables((name, self.predict_from_current_faults(name, Evidence())) for name in self.observation_models)

    def predicted_likelihood(self, finding: str, evidence: Evidence) -> AnswerLikelihood:
        """P(reported answer | what is present now, valid reports of the same target)."""
        observation = self.observation_models[finding]
        likelihood, reports = self.answer_likelihood(observation.target), self._reports_of_same_target(finding, evidence)
        if reports:
            likelihood = likelihood.conditioned_on(self._report_likelihoods(reports)[observation.target])
        return likelihood.observed_through(observation)

    def _reports_of_same_target(self, finding: str, evidence: Evidence) -> list[Report]:
        """Reports of the finding's target that are valid now."""
        epoch = len(evidence.failed_repairs)
        target = self.observation_models[finding].target
        valid = [r for r in evidence.reports if r.epoch == epoch]
        valid += [r for r in evidence.still_valid(epoch) if r.finding != finding]
        return [r for r in valid if self.observation_models[r.finding].target == target]


def as_reports(answers: Mapping[str, str]) -> tuple[Report, ...]:
    """Reports of epoch 0 from finding -> answer, without answers that are no evidence."""
    return tuple(Report(name, answer) for name, answer in answers.items() if answer not in UNINFORMATIVE_ANSWERS)


def log_sum_exp(values: Floats) -> float:
    """Logarithm of the sum of exponentials, without overflow; -inf when all values are."""
    return float(log_sum_exp_rows(values[None])[0])


def log_sum_exp_rows(rows: Floats) -> Floats:
    """(N,) logarithm of the sum of exponentials of each row of (N, M)."""
    largest = rows.max(axis=1, keepdims=True, initial=-np.inf)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.exp(rows - np.where(np.isfinite(largest), largest, 0.0)).sum(axis=1)) + largest[:, 0])


def _by_epoch(reports: Sequence[Report]) -> dict[int, list[Report]]:
    result: dict[int, list[Report]] = {}
    for report in reports:
        result.setdefault(report.epoch, []).append(report)
    return result
