"""The evidence: reported answers, failed repairs and what rules add; and the repair history, which says how likely that is.

A failed repair may still have removed one of two causes. So the repair history follows each pair by what remains of it: both
causes, only the first, or only the second.

`Observations` is all that a history amounts to: the input of a diagnosis, as a value.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

import numpy as np

from nopost.diagnosis.belief.hypotheses import Floats, Hypotheses, Ints
from nopost.diagnosis.belief.repair_outcomes import OutcomeLikelihood
from nopost.knowledge.model import ABSENT, UNKNOWN

UNINFORMATIVE_ANSWERS = (UNKNOWN, ABSENT)
"""Answers that are no evidence for or against any cause."""
BOTH_REMAIN = (1.0, 0.0, 0.0)


@dataclass(frozen=True)
class RepairHistory:
    """Likelihood of reports and failed repairs in the order in which they came, given the hypotheses at the start.

    `log_likelihood`: (H,) log P(events | hypothesis); its entries of pairs are not used. `log_remaining`: (3, pairs) log P(events
    and this part of the pair is present now | pair at the start), the parts being both causes, only the first, only the second.
    """

    hypotheses: Hypotheses
    log_likelihood: Floats
    log_remaining: Floats

    @classmethod
    def start(cls, hypotheses: Hypotheses) -> RepairHistory:
        """The history without any event: everything that was present at the start is present now."""
        log_remaining = np.full((3, len(hypotheses.first[hypotheses.pairs])), -np.inf)
        log_remaining[0] = 0.0
        return cls(hypotheses, np.zeros(len(hypotheses.first)), log_remaining)

    def observe(self, log_likelihood: Floats) -> RepairHistory:
        """The history with one more report; `log_likelihood`: (H,) log P(report | what is present now)."""
        i, j = self._pairs()
        seen_by_part = np.array([log_likelihood[self.hypotheses.pairs], log_likelihood[i], log_likelihood[j]])
        return RepairHistory(self.hypotheses, self.log_likelihood + log_likelihood, self.log_remaining + seen_by_part)

    def fix_failed(self, persistence: Floats, outcome: OutcomeLikelihood | None = None) -> RepairHistory:
        """The history with one more failed repair: the machine still does not start.

        `persistence`: (C,) P(the cause is still present after the fix | it was present), above 0; `outcome`: how likely what was
        seen afterwards is, None when it tells nothing.
        """
        i, j = self._pairs()
        count = len(self.hypotheses.causes)
        seen = outcome or OutcomeLikelihood(np.zeros(len(self.hypotheses.first)), np.zeros(count))
        still, left = seen.nothing_removed, seen.one_removed
        both, only_first, only_second = self.log_remaining
        log_remaining = np.array(
            [
                both + np.log(persistence[i] * persistence[j]) + still[self.hypotheses.pairs],
                np.logaddexp(
                    both + _log(persistence[i] * (1 - persistence[j])) + left[i], only_first + np.log(persistence[i]) + still[i]
                ),
                np.logaddexp(
                    both + _log((1 - persistence[i]) * persistence[j]) + left[j], only_second + np.log(persistence[j]) + still[j]
                ),
            ]
        )
        # An unlisted cause is removed by no fix: only what is seen afterwards speaks for or against it.
        log_failure = np.append(np.log(persistence[self.hypotheses.first[:-1]]), 0.0) + still
        return RepairHistory(self.hypotheses, self.log_likelihood + log_failure, log_remaining)

    def total_log_likelihood(self) -> Floats:
        """(H,) log P(all events | hypothesis at the start)."""
        total = self.log_likelihood.copy()
        total[self.hypotheses.pairs] = np.logaddexp.reduce(self.log_remaining, axis=0)
        return total

    def remaining_of_pairs(self) -> Floats:
        """(3, pairs) P(both, only the first, only the second is present now | pair at the start, events).

        Columns sum to 1. A pair under which the events are impossible counts as still whole, so that no number is undefined.
        """
        total = np.logaddexp.reduce(self.log_remaining, axis=0)
        possible = np.isfinite(total)
        return np.where(possible, np.exp(self.log_remaining - np.where(possible, total, 0.0)), np.array(BOTH_REMAIN)[:, None])

    def current_posterior(self, posterior: Floats) -> Floats:
        """(H,) probabilities of what is present now, from the (H,) posterior of what was present at the start."""
        i, j = self._pairs()
        both, only_first, only_second = self.remaining_of_pairs() * posterior[self.hypotheses.pairs]
        result = posterior.copy()
        result[self.hypotheses.pairs] = both
        count = len(self.hypotheses.causes)
        result[:count] += np.bincount(i, only_first, count) + np.bincount(j, only_second, count)
        return result

    def _pairs(self) -> tuple[Ints, Ints]:
        """(pairs,) indexes of the first and of the second cause of each pair."""
        return self.hypotheses.first[self.hypotheses.pairs], self.hypotheses.second[self.hypotheses.pairs]


def _log(values: Floats) -> Floats:
    """Logarithms, -inf for 0."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(values))


def _last_change(epoch: int, unchanged: Collection[int]) -> int:
    """The epoch since which nothing has changed, up to this one; `unchanged`: epochs begun by a fix that changed nothing."""
    while epoch in unchanged:
        epoch -= 1
    return epoch


@dataclass(frozen=True, slots=True)
class Report:
    """A reported answer to a finding. `epoch`: how many fixes had been tried before it was observed; `again`: it is a second
    look, which counts beside the first."""

    finding: str
    answer: str
    epoch: int = 0
    again: bool = False

    @property
    def tells(self) -> bool:
        """Whether it says anything of causes."""
        return self.answer not in UNINFORMATIVE_ANSWERS


@dataclass(frozen=True, slots=True)
class Evidence:
    """All evidence of a session.

    `failed_repairs`: actions in the order in which they were done, after each of which the machine still did not start; the n-th
    begins epoch n, counted from 1. `rule_weights`: (cause, weight of evidence in decibans, id of the rule that adds it).
    `ruled_out`: causes that rules exclude. `unchanged`: epochs begun by a fix after which nothing had changed, so that reports
    from before are still valid. `outcomes`: what was seen after each failed repair, "same" or "changed"; one that is missing or
    "" is not known.
    """

    reports: tuple[Report, ...] = ()
    failed_repairs: tuple[str, ...] = ()
    rule_weights: tuple[tuple[str, float, str], ...] = ()
    ruled_out: frozenset[str] = frozenset()
    unchanged: frozenset[int] = frozenset()
    outcomes: tuple[str, ...] = ()

    def outcome(self, epoch: int) -> str:
        """What was seen after the failed repair that began this epoch: "same", "changed", or "" when it is not known."""
        return self.outcomes[epoch - 1] if epoch <= len(self.outcomes) else ""

    def still_valid(self, epoch: int) -> tuple[Report, ...]:
        """Reports of earlier epochs that are still valid in this one, because no fix in between changed anything."""
        start = _last_change(epoch, self.unchanged)
        return tuple(r for r in self.reports if start <= r.epoch < epoch) if start < epoch else ()


@dataclass(frozen=True)
class Observations:
    """All that was seen and done so far.

    `reports`: answers in order, reserved ones included; `tried`: fixes in order that left the machine dead;
    `stale`: findings to ask again because a fix changed something; `outdated`: findings that a fix may have put right, which
    rules see no more; `skipped`: actions the person cannot or will not do;
    `facts`: what the records settle; `unchanged`: after which fixes, counted from 1, nothing had changed; `ready`: preparations
    that are made now; `outcomes`: what was seen after each fix in `tried`, "same" or "changed" (missing: not known).
    """

    reports: tuple[Report, ...] = ()
    tried: tuple[str, ...] = ()
    stale: frozenset[str] = frozenset()
    outdated: frozenset[str] = frozenset()
    skipped: frozenset[str] = frozenset()
    facts: Mapping[str, str] = field(default_factory=dict)
    unchanged: frozenset[int] = frozenset()
    ready: frozenset[str] = frozenset()
    outcomes: tuple[str, ...] = ()

    def current(self) -> dict[str, str]:
        """Finding -> its latest answer, as rules see it: without those that no longer hold and those that cannot be told.

        A second look by which nothing can be told leaves the first answer standing.
        """
        gone = self.stale | self.outdated
        latest = {r.finding: r.answer for r in self.reports if r.finding not in gone and (r.tells or not r.again)}
        return {finding: answer for finding, answer in latest.items() if answer != UNKNOWN}

    def asked(self) -> frozenset[str]:
        """Findings that need not be asked again."""
        return frozenset(r.finding for r in self.reports) - self.stale

    def telling(self) -> tuple[Report, ...]:
        """Reports that say something. In one epoch the last one counts, and the last second look beside it; the same answer again
        without a second look is no new evidence. An answer that is given anew takes back the second look at the old one."""
        last: dict[tuple[str, int, bool], Report] = {}
        for report in self.reports:
            if not report.again:
                last.pop((report.finding, report.epoch, True), None)
            last[(report.finding, report.epoch, report.again)] = report
        kept: list[Report] = []
        before: dict[str, str] = {}
        for report in last.values():
            if report.tells and (report.again or before.get(report.finding) != report.answer):
                kept.append(report)
                before[report.finding] = report.answer
        return tuple(kept)

    def seen_once(self) -> tuple[Report, ...]:
        """What was answered, still holds and was looked at only once, in order: a second look at it would be new evidence.

        It holds when it was answered since the last fix after which something else was seen.
        """
        last = {report.finding: report for report in self.reports}
        gone = self.stale | self.outdated
        since = _last_change(len(self.tried), self.unchanged)
        return tuple(r for r in last.values() if r.epoch >= since and r.tells and not r.again and r.finding not in gone)

    def is_second_look(self, finding: str) -> bool:
        """Whether looking at this finding now would be a second look at an answer that still holds."""
        return any(report.finding == finding for report in self.seen_once())

    def was_confirmed(self, finding: str) -> bool:
        """Whether a second look was taken at this finding, at any time."""
        return any(report.finding == finding and report.again for report in self.reports)
