"""Why the belief is what it is: weights of evidence (Good), the conflict measure, and answers that are inconsistent with
others.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nopost.diagnosis.belief.evidence import Evidence, RepairHistory, Report
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel, log_sum, log_sums
from nopost.diagnosis.observations import Observations
from nopost.knowledge.model import Condition, Knowledge


@dataclass(frozen=True, slots=True)
class InconsistentAnswers:
    """`finding` was answered, but `other` as answered rules out that it can be seen."""

    finding: str
    other: str


def inconsistent_answers(knowledge: Knowledge, seen: Observations) -> tuple[InconsistentAnswers, ...]:
    """Pairs among the latest answers that were given between the same two fixes."""
    latest = {report.finding: report for report in seen.telling()}
    return tuple(
        InconsistentAnswers(report.finding, other)
        for report in latest.values()
        for other in _contradicted_by(knowledge, report, latest)
    )


def _contradicted_by(knowledge: Knowledge, report: Report, latest: dict[str, Report]) -> Iterator[str]:
    """Findings whose answers break the conditions under which this one is asked."""
    when = knowledge.findings[report.finding].when
    for conditions, wanted in ((when.all, True), (when.none, False)):
        for condition in conditions:
            if _known(condition, report, latest) and (latest[condition.name].answer in condition.values) is not wanted:
                yield condition.name


def _known(condition: Condition, report: Report, latest: dict[str, Report]) -> bool:
    other = None if condition.of_fact else latest.get(condition.name)
    return other is not None and other.epoch == report.epoch


@dataclass(frozen=True, slots=True)
class WeightOfEvidence:
    """What one piece of evidence did for a cause, in decibans (10 log10 of the factor on its odds; Good)."""

    what: str
    name: str
    answer: str
    decibans: float


@dataclass(frozen=True, slots=True)
class Conflict:
    """How badly the answers go together: conflict in bits (log2 of apart over together), and the answer to check."""

    bits: float
    finding: str
    answer: str
    bits_without: float


def weights_of_evidence(model: BeliefModel, evidence: Evidence, cause: str) -> list[WeightOfEvidence]:
    """Each piece in turn, in the order it came in; prior log odds plus their sum is the posterior log odds.

    Exclusions come last and weigh nothing for a cause that is not itself excluded beyond what they take from its rivals.
    """
    known = Evidence(unchanged=evidence.unchanged)
    before = _decibans(model, known, cause)
    result = []
    for what, name, answer, known in _growing(evidence):
        after = _decibans(model, known, cause)
        if np.isfinite(after) and np.isfinite(before):
            result.append(WeightOfEvidence(what, name, answer, after - before))
        before = after
    return result


def _growing(evidence: Evidence) -> list[tuple[str, str, str, Evidence]]:
    """Each piece of evidence with all that is known once it is in."""
    steps = []
    known = Evidence(unchanged=evidence.unchanged)
    for epoch in range(len(evidence.tried) + 1):
        for report in (r for r in evidence.reports if r.epoch == epoch):
            known = replace(known, reports=(*known.reports, report))
            steps.append(("answer", report.finding, report.answer, known))
        if epoch < len(evidence.tried):
            known = replace(known, tried=evidence.tried[: epoch + 1])
            steps.append(("tried", evidence.tried[epoch], "", known))
    for entry in evidence.decibans:
        known = replace(known, decibans=(*known.decibans, entry))
        steps.append(("rule", entry[2], entry[0], known))
    if evidence.ruled_out:
        steps.append(("ruled-out", "", ", ".join(sorted(evidence.ruled_out)), replace(known, ruled_out=evidence.ruled_out)))
    return steps


def _decibans(model: BeliefModel, evidence: Evidence, cause: str) -> float:
    """Log odds of a cause in decibans."""
    log_p = model.log_posterior(evidence)
    inside = model.h.has(model.index[cause])
    return float((log_sum(log_p[inside]) - log_sum(log_p[~inside])) * 10 / np.log(10))


def conflict_measure(model: BeliefModel, evidence: Evidence) -> Conflict | None:
    """Conflict measure log2(product of P(answer) / P(all answers)); None with fewer than two answers.

    Names the answer whose removal lowers it most. Answers that read the same thing count as one.
    """
    groups = _groups(model, evidence)
    if len(groups) < 2:
        return None
    logs = np.array(_log_groups(model, groups, evidence.tried))
    prior = model.h.log_prior
    alone = np.array([log_sum(prior + row) for row in logs])
    together = log_sum(prior + logs.sum(axis=0))
    without = log_sums(prior + logs.sum(axis=0) - logs)
    bits = (alone.sum() - together) / np.log(2)
    bits_without = (alone.sum() - alone - without) / np.log(2)
    worst = int(np.argmin(bits_without))
    report = groups[worst][-1]
    return Conflict(float(bits), report.finding, report.answer, float(bits_without[worst]))


def _groups(model: BeliefModel, evidence: Evidence) -> list[list[Report]]:
    groups: dict[tuple[str, int], list[Report]] = {}
    for report in evidence.reports:
        groups.setdefault((model.channels[report.finding].target, report.epoch), []).append(report)
    return list(groups.values())


def _log_groups(model: BeliefModel, groups: Sequence[Sequence[Report]], tried: Sequence[str]) -> list[Floats]:
    """(H,) log likelihood of the reports of each group, given that the machine did not start until then."""
    silent = [RepairHistory.start(model.h)]
    for action in tried:
        silent.append(silent[-1].failed(model.left([action])))
    before = [course.log() for course in silent]

    def log_group(group: Sequence[Report]) -> Floats:
        """Before any fix that is just what was seen."""
        seen, epoch = model.log_reports(group), group[0].epoch
        return silent[epoch].seen(seen).log() - before[epoch] if epoch else seen

    return [log_group(group) for group in groups]
