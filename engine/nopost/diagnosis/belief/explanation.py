"""Why the belief is what it is: weights of evidence, the conflict measure, and answers that are inconsistent with others."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nopost.diagnosis.belief.evidence import Evidence, Observations, RepairHistory, Report
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import NATS_PER_DECIBAN, BeliefModel, log_sum_exp, log_sum_exp_rows
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

    `kind`: "answer", "tried" (a failed repair), "rule" or "ruled-out". `name`: id of the finding, action or rule, "" for
    ruled-out. `answer`: the answer, the cause that the rule is about, or all causes that are ruled out. `decibans`: 10 log10 of
    the factor on the odds (Good, "Probability and the Weighing of Evidence", 1950).
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
    for kind, name, answer, known in _cumulative_evidence(evidence):
        after = _log_odds(model, known, cause)
        if np.isfinite(after) and np.isfinite(before):
            result.append(WeightOfEvidence(kind, name, answer, after - before))
        before = after
    return result


def _cumulative_evidence(evidence: Evidence) -> list[tuple[str, str, str, Evidence]]:
    """Each piece of evidence (kind, name, answer) with all evidence up to and including it."""
    steps = []
    known = Evidence(unchanged=evidence.unchanged)
    for epoch in range(len(evidence.failed_repairs) + 1):
        for report in (r for r in evidence.reports if r.epoch == epoch):
            known = replace(known, reports=(*known.reports, report))
            steps.append(("answer", report.finding, report.answer, known))
        if epoch < len(evidence.failed_repairs):
            known = replace(known, failed_repairs=evidence.failed_repairs[: epoch + 1])
            steps.append(("tried", evidence.failed_repairs[epoch], "", known))
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

    Source: Jensen & Nielsen 2007, "Bayesian Networks and Decision Graphs". Reports of the same target in one epoch count as one
    answer. Names the answer without which the measure is lowest.

    Returns:
        None with fewer than two answers.
    """
    groups = _reports_by_target(model, evidence)
    if len(groups) < 2:
        return None
    log_likelihoods = np.array(_log_likelihoods(model, groups, evidence.failed_repairs))
    log_prior, log_all = model.hypotheses.log_prior, log_likelihoods.sum(axis=0)
    log_each = np.array([log_sum_exp(log_prior + row) for row in log_likelihoods])
    log_together = log_sum_exp(log_prior + log_all)
    log_without = log_sum_exp_rows(log_prior + log_all - log_likelihoods)
    bits = (log_each.sum() - log_together) / np.log(2)
    bits_without = (log_each.sum() - log_each - log_without) / np.log(2)
    suspect = int(np.argmin(bits_without))
    report = groups[suspect][-1]
    return Conflict(float(bits), report.finding, report.answer, float(bits_without[suspect]))


def _reports_by_target(model: BeliefModel, evidence: Evidence) -> list[list[Report]]:
    """The reports, those of one target in one epoch together."""
    groups: dict[tuple[str, int], list[Report]] = {}
    for report in evidence.reports:
        groups.setdefault((model.observation_models[report.finding].target, report.epoch), []).append(report)
    return list(groups.values())


def _log_likelihoods(model: BeliefModel, groups: Sequence[Sequence[Report]], failed_repairs: Sequence[str]) -> list[Floats]:
    """(H,) for each group log P(its reports | hypothesis, the repairs before them failed)."""
    histories = [RepairHistory.start(model.hypotheses)]
    for action in failed_repairs:
        histories.append(histories[-1].fix_failed(model.persistence([action])))
    log_failures = [history.total_log_likelihood() for history in histories]

    def log_likelihood(group: Sequence[Report]) -> Floats:
        """Before any repair that is just the likelihood of the reports."""
        of_reports, epoch = model.log_report_likelihood(group), group[0].epoch
        return histories[epoch].observe(of_reports).total_log_likelihood() - log_failures[epoch] if epoch else of_reports

    return [log_likelihood(group) for group in groups]
