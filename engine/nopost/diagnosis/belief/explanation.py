"""Why the belief is what it is: weights of evidence, the conflict measure, and answers that are inconsistent with others."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nopost.diagnosis.belief.evidence import Evidence, Observations, RepairHistory, Report
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import NATS_PER_DECIBAN, BeliefModel, log_sum_exp
from nopost.knowledge.model import Condition, Knowledge


@dataclass(frozen=True, slots=True)
class InconsistentAnswers:
    """Two answers that cannot both be right: with `other` as answered, `finding` would not have been asked at all."""

    finding: str
    other: str


def inconsistent_answers(knowledge: Knowledge, seen: Observations) -> tuple[InconsistentAnswers, ...]:
    """Inconsistent pairs among the latest answers; both must come from the same epoch, for a fix may change an answer."""
    latest = {report.finding: report for report in seen.telling()}
    return tuple(
        InconsistentAnswers(report.finding, other)
        for report in latest.values()
        for other in _contradicting_findings(knowledge, report, latest)
    )


def _contradicting_findings(knowledge: Knowledge, report: Report, latest: dict[str, Report]) -> Iterator[str]:
    """Findings whose answers break a condition under which the reported finding is asked."""
    when = knowledge.findings[report.finding].when
    for conditions, wanted in ((when.all, True), (when.none, False)):
        for condition in conditions:
            if not _answered_in_same_epoch(condition, report, latest):
                continue
            if (latest[condition.name].answer in condition.values) is not wanted:
                yield condition.name


def _answered_in_same_epoch(condition: Condition, report: Report, latest: dict[str, Report]) -> bool:
    """Whether the condition is about a finding that was answered between the same two fixes as the report."""
    other = None if condition.of_fact else latest.get(condition.name)
    return other is not None and other.epoch == report.epoch


@dataclass(frozen=True, slots=True)
class WeightOfEvidence:
    """What one piece of evidence did to the odds of a cause.

    `kind`: "answer", "again" (a second look), "tried" (a failed repair), "outcome" (what was seen after it), "rule" or
    "ruled-out". `name`: id of the finding, action or rule, "" for ruled-out. `answer`: the answer, the outcome ("same" or
    "changed"), the cause that the rule is about, or all causes that are ruled out. `decibans`: 10 log10 of the factor on the odds
    (Good, "Probability and the Weighing of Evidence", 1950).
    """

    kind: str
    name: str
    answer: str
    decibans: float


@dataclass(frozen=True, slots=True)
class Conflict:
    """How badly the answers go together.

    `bits`: conflict measure; `finding` and `answer`: the report that is most worth checking; `bits_without`: the conflict measure
    of all others.
    """

    bits: float
    finding: str
    answer: str
    bits_without: float


def weights_of_evidence(model: BeliefModel, evidence: Evidence, cause: str) -> list[WeightOfEvidence]:
    """The weight of each piece of evidence for a cause, in the order in which the pieces came in.

    Each piece is weighed given all before it, so that prior log odds plus the sum of weights is the posterior log odds. Excluded
    causes come last; for a cause that is not itself excluded they weigh what they take from its rivals. Pieces after which the
    odds are 0 or infinite are left out.
    """
    before = _log_odds(model, Evidence(unchanged=evidence.unchanged), cause)
    result = []
    for kind, name, answer, known in _cumulative_evidence(model, evidence):
        after = _log_odds(model, known, cause)
        if np.isfinite(after) and np.isfinite(before):
            result.append(WeightOfEvidence(kind, name, answer, after - before))
        before = after
    return result


def _cumulative_evidence(model: BeliefModel, evidence: Evidence) -> list[tuple[str, str, str, Evidence]]:
    """Each piece of evidence (kind, name, answer) with all evidence up to and including it."""
    steps = []
    known = Evidence(unchanged=evidence.unchanged)
    for epoch in range(len(evidence.failed_repairs) + 1):
        for report in (r for r in evidence.reports if r.epoch == epoch):
            known = replace(known, reports=(*known.reports, report))
            steps.append(("again" if report.again else "answer", report.finding, report.answer, known))
        if epoch < len(evidence.failed_repairs):
            known = replace(known, failed_repairs=evidence.failed_repairs[: epoch + 1])
            action, outcome = evidence.failed_repairs[epoch], evidence.outcome(epoch + 1)
            steps.append(("tried", action, "", known))
            known = replace(known, outcomes=(*known.outcomes, outcome))
            if outcome and model.outcome_tells(action):
                steps.append(("outcome", action, outcome, known))
    for weight in evidence.rule_weights:
        known = replace(known, rule_weights=(*known.rule_weights, weight))
        cause, _, rule = weight
        steps.append(("rule", rule, cause, known))
    if evidence.ruled_out:
        steps.append(("ruled-out", "", ", ".join(sorted(evidence.ruled_out)), replace(known, ruled_out=evidence.ruled_out)))
    return steps


def _log_odds(model: BeliefModel, evidence: Evidence, cause: str) -> float:
    """Posterior log odds of a cause, alone or in a pair, in decibans."""
    log_posterior = model.log_posterior(evidence)
    has_cause = model.hypotheses.has(model.cause_index[cause])
    return float((log_sum_exp(log_posterior[has_cause]) - log_sum_exp(log_posterior[~has_cause])) / NATS_PER_DECIBAN)


def conflict_measure(model: BeliefModel, evidence: Evidence) -> Conflict | None:
    """Conflict measure log2(product of P(each answer) / P(all answers)), in bits, above 0 when they go badly together.

    Source: Jensen & Nielsen 2007, "Bayesian Networks and Decision Graphs". Reports of one finding in one epoch count as one
    answer, and so do those of an instrument and of what it reads. Names the answer without which the measure is lowest.

    Returns:
        None with fewer than two answers.
    """
    answers = _answers(model, evidence)
    if len(answers) < 2:
        return None
    trees = [TreeReports(tuple(group)) for group in _by_tree(model, answers).values()]
    likelihood = _LogLikelihoods(model, evidence)
    log_prior = model.hypotheses.log_prior
    of_trees = [likelihood.of([report for answer in tree.answers for report in answer]) for tree in trees]
    log_all = log_prior + np.sum(of_trees, axis=0)
    log_each, log_without, last = [], [], []
    for tree, of_tree in zip(trees, of_trees, strict=True):
        for answer in tree.answers:
            log_each.append(log_sum_exp(log_prior + likelihood.of(answer)))
            log_without.append(log_sum_exp(log_all - of_tree + likelihood.of(tree.without(answer))))
            last.append(answer[-1])
    bits = (sum(log_each) - log_sum_exp(log_all)) / np.log(2)
    bits_without = (sum(log_each) - np.array(log_each) - np.array(log_without)) / np.log(2)
    suspect = int(np.argmin(bits_without))
    return Conflict(float(bits), last[suspect].finding, last[suspect].answer, float(bits_without[suspect]))


Answer = tuple[Report, ...]
"""Reports that count as one answer, all of one epoch."""


@dataclass(frozen=True, slots=True)
class TreeReports:
    """The answers of one tree of findings in one epoch, which are dependent given the hypothesis."""

    answers: tuple[Answer, ...]

    def without(self, answer: Answer) -> Answer:
        """All reports but those of this answer."""
        return tuple(report for other in self.answers if other is not answer for report in other)


def _answers(model: BeliefModel, evidence: Evidence) -> list[Answer]:
    """The reports, those of one finding in one epoch, and of its instruments, together."""
    groups: dict[tuple[str, int], list[Report]] = {}
    for report in evidence.reports:
        groups.setdefault((_target(model.knowledge, report.finding), report.epoch), []).append(report)
    return [tuple(group) for group in groups.values()]


def _target(knowledge: Knowledge, finding: str) -> str:
    """What is observed: the finding itself, or what an instrument reads."""
    reads = knowledge.findings[finding].reads
    return _target(knowledge, reads.finding) if reads else finding


def _by_tree(model: BeliefModel, answers: Sequence[Answer]) -> dict[tuple[str, int], list[Answer]]:
    groups: dict[tuple[str, int], list[Answer]] = {}
    for answer in answers:
        groups.setdefault((model.forest.root[answer[0].finding], answer[0].epoch), []).append(answer)
    return groups


class _LogLikelihoods:
    """Log likelihoods of reports of one epoch, given the hypotheses and what came of the repairs before them."""

    def __init__(self, model: BeliefModel, evidence: Evidence) -> None:
        self._model = model
        self._histories = [RepairHistory.start(model.hypotheses)]
        for epoch, action in enumerate(evidence.failed_repairs, start=1):
            self._histories.append(model.after_failed_fix(self._histories[-1], action, evidence.outcome(epoch)))
        self._log_failures = [history.total_log_likelihood() for history in self._histories]

    def of(self, reports: Sequence[Report]) -> Floats:
        """(H,) log P(reports | hypothesis, the repairs before them failed); before any repair just that of the reports."""
        log_likelihood = self._model.log_report_likelihood(reports)
        epoch = reports[0].epoch if reports else 0
        if not epoch:
            return log_likelihood
        return self._histories[epoch].observe(log_likelihood).total_log_likelihood() - self._log_failures[epoch]
