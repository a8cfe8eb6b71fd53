"""Answers that cannot both be: a finding was answered although another answer says that it could not be seen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nopost.advice.observations import Observations
from nopost.belief.evidence import Report
from nopost.knowledge.model import Condition, Knowledge


@dataclass(frozen=True, slots=True)
class Misfit:
    """`finding` was answered, but `other` as answered rules out that it can be seen."""

    finding: str
    other: str


def misfits(knowledge: Knowledge, seen: Observations) -> tuple[Misfit, ...]:
    """Pairs among the latest answers that were given between the same two fixes."""
    latest = {report.finding: report for report in seen.telling()}
    return tuple(Misfit(report.finding, other) for report in latest.values() for other in _against(knowledge, report, latest))


def _against(knowledge: Knowledge, report: Report, latest: dict[str, Report]) -> Iterator[str]:
    """Findings whose answers break the conditions under which this one is asked."""
    when = knowledge.findings[report.finding].when
    for conditions, wanted in ((when.all, True), (when.none, False)):
        for condition in conditions:
            if _known(condition, report, latest) and (latest[condition.name].answer in condition.values) is not wanted:
                yield condition.name


def _known(condition: Condition, report: Report, latest: dict[str, Report]) -> bool:
    other = None if condition.of_fact else latest.get(condition.name)
    return other is not None and other.epoch == report.epoch
