"""What a session knows: the input of an assessment, as a value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from nopost.diagnosis.belief.evidence import Report
from nopost.diagnosis.belief.posterior import UNINFORMATIVE_ANSWERS
from nopost.knowledge.model import UNKNOWN


@dataclass(frozen=True)
class Observations:
    """All that was seen and done so far.

    `reports`: answers in order, reserved ones included; `tried`: fixes in order that left the machine dead;
    `stale`: findings to ask again because a fix changed something; `outdated`: findings that a fix may have put right, which
    rules see no more; `skipped`: actions the person cannot or will not do;
    `facts`: what the records settle; `unchanged`: after which fixes, counted from 1, nothing had changed.
    """

    reports: tuple[Report, ...] = ()
    tried: tuple[str, ...] = ()
    stale: frozenset[str] = frozenset()
    outdated: frozenset[str] = frozenset()
    skipped: frozenset[str] = frozenset()
    facts: Mapping[str, str] = field(default_factory=dict)
    unchanged: frozenset[int] = frozenset()

    def current(self) -> dict[str, str]:
        """Finding -> its latest answer, as rules see it: without those that no longer hold and those that cannot be told."""
        gone = self.stale | self.outdated
        latest = {r.finding: r.answer for r in self.reports if r.finding not in gone}
        return {finding: answer for finding, answer in latest.items() if answer != UNKNOWN}

    def asked(self) -> frozenset[str]:
        """Findings that need not be asked again."""
        return frozenset(r.finding for r in self.reports) - self.stale

    def telling(self) -> tuple[Report, ...]:
        """Reports that say something. In one epoch the last one counts; the same answer again is no new evidence."""
        last: dict[tuple[str, int], Report] = {}
        for report in self.reports:
            last[(report.finding, report.epoch)] = report
        kept: list[Report] = []
        before: dict[str, str] = {}
        for report in last.values():
            if report.answer not in UNINFORMATIVE_ANSWERS and before.get(report.finding) != report.answer:
                kept.append(report)
                before[report.finding] = report.answer
        return tuple(kept)
