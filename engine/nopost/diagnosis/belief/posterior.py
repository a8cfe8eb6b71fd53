"""The belief model of a knowledge base: arrays compiled once, and the posterior as a function of the evidence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np

from nopost.diagnosis.belief.evidence import UNINFORMATIVE_ANSWERS, Evidence, RepairHistory, Report
from nopost.diagnosis.belief.finding_forest import FindingForest, Weights, largest_differences
from nopost.diagnosis.belief.finding_node import HypothesisRows
from nopost.diagnosis.belief.hypotheses import Floats, Ints, build_hypotheses
from nopost.diagnosis.belief.likelihood import LARGEST_CACHED_ARRAY, AnswerLikelihood, LazyTables, StackedTables
from nopost.diagnosis.belief.repair_outcomes import OutcomeLikelihood, chance_of_change, outcome_likelihood
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
        forest: the findings with their parents, and exact inference in it.
        true_answer_tables: id of a finding -> (H, answers) P(true answer | hypothesis), its parent not known.
        reported_answer_tables: id of a finding -> (H, answers) P(reported answer | hypothesis), its parent not known.

    Tables are computed on first use. What is computed over all hypotheses uses `AnswerLikelihood` instead, which stores each
    class of causes once, so that a large knowledge base needs no such tables.
    """

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.hypotheses = build_hypotheses(knowledge.causes, knowledge.base)
        self.cause_index = {name: k for k, name in enumerate(self.hypotheses.causes)}
        self.forest = FindingForest(knowledge, self.hypotheses)
        self._all = HypothesisRows.of(self.hypotheses)
        self._tree_likelihoods: dict[tuple[tuple[str, bytes], ...], Floats] = {}
        self._likelihoods_alone: dict[str, AnswerLikelihood] = {}
        self.true_answer_tables = LazyTables(list(knowledge.findings), self._true_answer_table)
        self.reported_answer_tables = LazyTables(list(knowledge.findings), self._reported_answer_table)
        self.answer_index = {f.id: {answer: k for k, answer in enumerate(f.answer_ids)} for f in knowledge.findings.values()}
        repairs = {action for cause in knowledge.causes.values() for action in cause.fixes}
        self._chances_of_change: dict[str, Floats | None] = {}
        self._persistence = {a: np.maximum(1 - self.repair_probabilities([a])[:, 0], LEAST_PERSISTENCE) for a in repairs}

    @cached_property
    def informative_findings(self) -> frozenset[str]:
        """Findings whose reported answers do not have the same probability under all hypotheses."""
        differences = largest_differences(self.forest, list(self.knowledge.findings))
        return frozenset(name for name, difference in differences.items() if difference > LEAST_DIFFERENCE)

    def answer_likelihood(self, finding: str) -> AnswerLikelihood:
        """P(true answer | hypothesis) as the causes give it, of a finding that is no instrument; its parent is left aside."""
        return self.forest.answer_likelihood(finding)

    def single_cause_table(self, finding: str) -> Floats:
        """(C, answers) P(reported answer | this cause alone)."""
        return self.true_answers_of_single_causes(finding) @ self.misreports(finding)

    def true_answers_of_single_causes(self, finding: str) -> Floats:
        """(C, answers) P(true answer | this cause alone)."""
        rows = HypothesisRows.single(len(self.hypotheses.causes))
        return self.forest.true_answers(rows, {}, [finding])[finding]

    def misreports(self, finding: str) -> Floats:
        """(answers, answers) P(reported | true answer)."""
        return self.forest.node(finding).misreports

    def _true_answer_table(self, finding: str) -> Floats:
        """(H, answers) P(true answer | hypothesis)."""
        return self.forest.true_answers(self._all, {}, [finding])[finding]

    def _reported_answer_table(self, finding: str) -> Floats:
        """(H, answers) P(reported answer | hypothesis)."""
        return self.true_answer_tables[finding] @ self.misreports(finding)

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
            log_likelihood = self.log_report_likelihood(epochs.get(epoch, ()), self._earlier_reports(evidence, epoch))
            history = self.after_failed_fix(history, action, evidence.outcome(epoch)).observe(log_likelihood)
        return history

    def after_failed_fix(self, history: RepairHistory, action: str, outcome: str = "") -> RepairHistory:
        """The history with one more failed fix and what was seen after it, "same" or "changed" ("": not known)."""
        return history.fix_failed(self.persistence([action]), self._outcome_likelihood(action, outcome))

    def outcome_tells(self, action: str) -> bool:
        """Whether what is seen after this fix in vain speaks for or against causes."""
        return self.chance_of_change(action) is not None

    def chance_of_change(self, action: str) -> Floats | None:
        """(C,) P(something else is seen after this fix | this cause alone, still there); None when that tells nothing."""
        if action not in self._chances_of_change:
            self._chances_of_change[action] = chance_of_change(self.knowledge, self.hypotheses, action)
        return self._chances_of_change[action]

    def _outcome_likelihood(self, action: str, outcome: str) -> OutcomeLikelihood | None:
        chance = self.chance_of_change(action) if outcome else None
        if chance is None:
            return None
        return outcome_likelihood(self.hypotheses, chance, changed=outcome == "changed")

    def current_posterior(self, posterior: Floats, evidence: Evidence) -> Floats:
        """(H,) probabilities of what is still wrong after the failed repairs; a pair may have become a single cause."""
        return self.repair_history(evidence).current_posterior(posterior) if evidence.failed_repairs else posterior

    def log_report_likelihood(self, reports: Sequence[Report], still_valid: Sequence[Report] = ()) -> Floats:
        """(H,) log P(reports of one epoch | what is present, earlier reports that are still valid).

        Reports of one tree of findings are dependent. A report of a finding replaces an earlier one of the same finding; a second
        look counts beside it.
        """
        total = np.zeros(len(self.hypotheses.first))
        repeated = {report.finding for report in reports if not report.again}
        earlier = self.forest.trees(self._weights([r for r in still_valid if r.finding not in repeated]))
        for root, weights in self.forest.trees(self._weights(reports)).items():
            before = earlier.get(root, {})
            total += np.log(self._tree_likelihood(_product(before, weights)))
            if before:
                total -= np.log(self._tree_likelihood(before))
        return total

    def _tree_likelihood(self, weights: Weights) -> Floats:
        """(H,) P(reports of one tree | hypothesis); those of the last sets of reports are kept, for most come again."""
        key = tuple((name, weight.tobytes()) for name, weight in sorted(weights.items()))
        kept = self._tree_likelihoods.get(key)
        if kept is None:
            kept = self._new_tree_likelihood(weights)
            if (len(self._tree_likelihoods) + 1) * len(self.hypotheses.first) > LARGEST_CACHED_ARRAY:
                self._tree_likelihoods.clear()
            self._tree_likelihoods[key] = kept
        return kept

    def _new_tree_likelihood(self, weights: Weights) -> Floats:
        """(H,) the same, computed once for each class of causes where that is less work."""
        classes = self.forest.joint_classes(weights)
        count = int(classes.max()) + 1
        if count * (count + 1) >= len(self.hypotheses.first):
            return self.forest.likelihood(self._all, weights)
        by_class = self.forest.likelihood(HypothesisRows.of_classes(classes), weights)
        return np.asarray(by_class.take(self._all.places(classes, count)))

    def _weights(self, reports: Sequence[Report]) -> dict[str, Floats]:
        """Finding -> (answers,) P(all reports of it | true answer)."""
        result: dict[str, Floats] = {}
        for report in reports:
            column = self.misreports(report.finding)[:, self.answer_index[report.finding][report.answer]]
            result[report.finding] = result[report.finding] * column if report.finding in result else column
        return result

    def _earlier_reports(self, evidence: Evidence, epoch: int) -> list[Report]:
        """The latest report of each finding before this epoch that is still valid in it, and the second look at it.

        That is what no fix in between can have changed: everything after a fix that changed nothing, and findings of the history,
        for they are about the past.
        """
        valid = [r for r in evidence.reports if r.epoch < epoch and self.knowledge.findings[r.finding].is_past]
        latest: dict[str, list[Report]] = {}
        for report in dict.fromkeys((*valid, *evidence.still_valid(epoch))):
            of_finding = latest.setdefault(report.finding, [])
            if of_finding and of_finding[-1].epoch != report.epoch and not report.again:
                of_finding.clear()
            of_finding.append(report)
        return [report for of_finding in latest.values() for report in of_finding]

    def predict_from_initial_faults(self, finding: str, evidence: Evidence, *, again: bool = False) -> Floats:
        """(H, answers) P(reported answer | hypothesis at the start, evidence): goes with `posterior`.

        After a failed repair a pair predicts by what remains of it. `again`: it is a second look at what was answered.
        """
        table = self.predict_from_current_faults(finding, evidence, again=again)
        if not evidence.failed_repairs:
            return table
        both, only_first, only_second = self.repair_history(evidence).remaining_of_pairs()[:, :, None]
        pairs = self.hypotheses.pairs
        i, j = self.hypotheses.first[pairs], self.hypotheses.second[pairs]
        result = table.copy()
        result[pairs] = both * table[pairs] + only_first * table[i] + only_second * table[j]
        return result

    def predict_from_current_faults(self, finding: str, evidence: Evidence, *, again: bool = False) -> Floats:
        """(H, answers) P(reported answer | what is present now, evidence): goes with `current_posterior`."""
        for _, weights in self._given_reports([finding], evidence, again=again):
            return self.forest.true_answers(self._all, weights, [finding])[finding] @ self.misreports(finding)
        return self.reported_answer_tables[finding]

    def predict_many(self, findings: Sequence[str], evidence: Evidence, hypotheses: Ints, *, again: bool = False) -> list[Floats]:
        """`predict_from_current_faults` of many findings, (N, answers) each, for the N hypotheses with these indexes."""
        rows = HypothesisRows.of(self.hypotheses, hypotheses)
        groups = self._given_reports(findings, evidence, again=again)
        dependent = {name for group, _ in groups for name in group}
        others = [name for name in findings if name not in dependent]
        tables = dict(zip(others, self._stacked_tables.tables_of(others, hypotheses), strict=True))
        for group, weights in groups:
            for finding, table in self.forest.true_answers(rows, weights, group).items():
                tables[finding] = table @ self.misreports(finding)
        return [tables[finding] for finding in findings]

    @cached_property
    def _stacked_tables(self) -> StackedTables:
        """Tables without any evidence."""
        return StackedTables((name, self._reported_answer_table(name)) for name in self.knowledge.findings)

    def predicted_likelihood(self, finding: str, evidence: Evidence, *, again: bool = False) -> AnswerLikelihood:
        """P(reported answer | what is present now, valid reports of the same tree)."""
        weights = next((weights for _, weights in self._given_reports([finding], evidence, again=again)), {})
        if weights:
            return self._likelihood_given(finding, weights)
        if finding not in self._likelihoods_alone:
            self._likelihoods_alone[finding] = self._likelihood_given(finding, {})
        return self._likelihoods_alone[finding]

    def _likelihood_given(self, finding: str, weights: dict[str, Floats]) -> AnswerLikelihood:
        """P(reported answer | what is present now, the weights of reports of the same tree)."""
        classes = self.forest.joint_classes([finding, *weights])
        rows = HypothesisRows.of_classes(classes)
        table = self.forest.true_answers(rows, weights, [finding])[finding]
        return AnswerLikelihood.from_stacked(classes, table @ self.misreports(finding))

    def _given_reports(
        self, findings: Sequence[str], evidence: Evidence, *, again: bool
    ) -> list[tuple[list[str], dict[str, Floats]]]:
        """Findings of trees with reports that are valid now: those with the same reports together, and the weights of these.

        A finding that is asked again after a fix does not depend on its own earlier report, which the new one replaces; a second
        look (`again`) does.
        """
        epoch = len(evidence.failed_repairs)
        now = [r for r in evidence.reports if r.epoch == epoch]
        reported = {r.finding for r in now if not r.again}
        earlier = [r for r in self._earlier_reports(evidence, epoch) if r.finding not in reported]
        replaced = set() if again else {r.finding for r in earlier}
        trees = self.forest.trees(self._weights([*now, *earlier]))
        groups: dict[tuple[str, str], tuple[list[str], dict[str, Floats]]] = {}
        for finding in findings:
            left_out = finding if finding in replaced else ""
            root = self.forest.root[finding]
            weights = {name: weight for name, weight in trees.get(root, {}).items() if name != left_out}
            if weights:
                groups.setdefault((root, left_out), ([], weights))[0].append(finding)
        return list(groups.values())


def as_reports(answers: Mapping[str, str]) -> tuple[Report, ...]:
    """Reports of epoch 0 from finding -> answer, without answers that are no evidence."""
    return tuple(Report(name, answer) for name, answer in answers.items() if answer not in UNINFORMATIVE_ANSWERS)


def log_sum_exp(values: Floats) -> float:
    """Logarithm of the sum of exponentials, without overflow; -inf when all values are."""
    largest = values.max(initial=-np.inf)
    return float(np.log(np.exp(values - largest).sum()) + largest) if np.isfinite(largest) else float(largest)


def _product(one: Weights, other: Weights) -> dict[str, Floats]:
    """The weights of all reports of both."""
    return {**one, **{name: weight * one[name] if name in one else weight for name, weight in other.items()}}


def _by_epoch(reports: Sequence[Report]) -> dict[int, list[Report]]:
    result: dict[int, list[Report]] = {}
    for report in reports:
        result.setdefault(report.epoch, []).append(report)
    return result
