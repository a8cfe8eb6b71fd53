"""The belief model of a knowledge base: arrays compiled once, and the posterior as a function of the evidence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from nopost.belief.course import Course
from nopost.belief.evidence import Evidence, Report
from nopost.belief.hypotheses import Floats, build_hypotheses
from nopost.belief.likelihood import Channel, channel, true_distributions
from nopost.knowledge.model import ABSENT, UNKNOWN, Knowledge

SILENT = (UNKNOWN, ABSENT)
LEAST_LEFT = 0.005
"""A fix done once may have been done badly, so no cause is ever mended for certain by it (judgement)."""
DECIBAN = np.log(10) / 10
"""One deciban as a natural logarithm (Good: a tenth of a factor ten)."""


class BeliefModel:
    """Hypotheses, likelihoods and chances of one knowledge base.

    `tables`: finding -> (H, answers) P(reported answer | hypothesis).
    """

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.h = build_hypotheses(knowledge.causes, knowledge.base)
        self.index = {name: k for k, name in enumerate(self.h.causes)}
        self.true: dict[str, Floats] = {}
        self.channels: dict[str, Channel] = {}
        self.tables: dict[str, Floats] = {}
        for finding in knowledge.findings.values():
            if finding.reads is None:
                self.true[finding.id] = true_distributions(finding, knowledge.causes, self.h, knowledge.base)
        for finding in knowledge.findings.values():
            way = channel(finding, knowledge.findings)
            self.channels[finding.id] = way
            self.tables[finding.id] = self.true[way.target] @ way.matrix
        self.answer_index = {f.id: {answer: k for k, answer in enumerate(f.answer_ids)} for f in knowledge.findings.values()}
        mending = {action for cause in knowledge.causes.values() for action in cause.fixes}
        self._stays = {a: np.maximum(1 - self.chances([a])[:, 0], LEAST_LEFT) for a in mending}
        self.bearing = frozenset(name for name, table in self.tables.items() if np.ptp(table, axis=0).max() > 1e-12)
        """Findings whose answers bear on the causes at all."""

    def chances(self, actions: Sequence[str]) -> Floats:
        """(C, actions) chance that each action mends each cause."""
        causes = self.knowledge.causes
        return np.array([[causes[c].fixes.get(a, 0.0) for a in actions] for c in self.h.causes]).reshape(len(self.h.causes), -1)

    def log_posterior(self, evidence: Evidence) -> Floats:
        """(H,) logarithm of the posterior, normalised."""
        total = self.log_joint(evidence)
        return np.asarray(total - log_sum(total))

    def posterior(self, evidence: Evidence) -> Floats:
        """(H,) posterior probabilities; they sum to 1."""
        return np.asarray(np.exp(self.log_posterior(evidence)))

    def log_joint(self, evidence: Evidence) -> Floats:
        """(H,) logarithm of prior times likelihood of everything known."""
        total = self.h.log_prior + self.course(evidence).log()
        for cause, decibans, _ in evidence.decibans:
            total = total + decibans * DECIBAN * self.h.members[:, self.index[cause]]
        for cause in evidence.ruled_out:
            total = np.where(self.h.members[:, self.index[cause]] > 0, -np.inf, total)
        return np.asarray(total)

    def left(self, tried: Sequence[str]) -> Floats:
        """(C,) chance that a cause, once there, is still there after these fixes."""
        rest = np.ones(len(self.h.causes))
        for action in tried:
            rest *= self._stays.get(action, 1.0)
        return rest

    def course(self, evidence: Evidence) -> Course:
        """What happened, in order: the reports, and that the machine still does not start after each fix."""
        epochs = _by_epoch(evidence.reports)
        course = Course.start(self.h).seen(self.log_reports(epochs.get(0, ())))
        for epoch, action in enumerate(evidence.tried, start=1):
            seen = self.log_reports(epochs.get(epoch, ()), evidence.standing(epoch))
            course = course.failed(self.left([action])).seen(seen)
        return course

    def now(self, posterior: Floats, evidence: Evidence) -> Floats:
        """(H,) probability of what is still wrong after the fixes that failed; a pair may have become a single cause."""
        return self.course(evidence).now(posterior) if evidence.tried else posterior

    def log_reports(self, reports: Sequence[Report], standing: Sequence[Report] = ()) -> Floats:
        """(H,) log P(reports of one epoch | what is there, what other instruments showed of the same and still stands)."""
        total = np.zeros(len(self.h.first))
        again = {report.finding for report in reports}
        before = self._by_target([r for r in standing if r.finding not in again])
        for target, seen in self._by_target(reports).items():
            if target in before:
                total += np.log(self.true[target] @ (seen * before[target])) - np.log(self.true[target] @ before[target])
            else:
                total += np.log(self.true[target] @ seen)
        return total

    def _by_target(self, reports: Sequence[Report]) -> dict[str, Floats]:
        """Target finding -> (its answers,) P(all that was reported of it | true answer)."""
        result: dict[str, Floats] = {}
        for report in reports:
            way = self.channels[report.finding]
            column = way.matrix[:, self.answer_index[report.finding][report.answer]]
            result[way.target] = result[way.target] * column if way.target in result else column
        return result

    def predict(self, finding: str, evidence: Evidence) -> Floats:
        """(H, answers) P(reported answer | hypothesis, what is known of the same target and still stands).

        After a failed fix a pair answers as what is left of it.
        """
        table = self.predict_now(finding, evidence)
        if not evidence.tried:
            return table
        both, one, other = self.course(evidence).left()[:, :, None]
        i, j = self.h.first[self.h.pairs], self.h.second[self.h.pairs]
        result = table.copy()
        result[self.h.pairs] = both * table[self.h.pairs] + one * table[i] + other * table[j]
        return result

    def predict_now(self, finding: str, evidence: Evidence) -> Floats:
        """The same given what is still wrong now: every cause of the hypothesis is still there."""
        epoch = len(evidence.tried)
        target = self.channels[finding].target
        known = [r for r in evidence.reports if r.epoch == epoch]
        known += [r for r in evidence.standing(epoch) if r.finding != finding]
        same = [r for r in known if self.channels[r.finding].target == target]
        if not same:
            return self.tables[finding]
        seen = self._by_target(same)[target]
        weighted = self.true[target] * seen
        weighted /= weighted.sum(axis=1, keepdims=True)
        return np.asarray(weighted @ self.channels[finding].matrix)


def as_reports(answers: Mapping[str, str]) -> tuple[Report, ...]:
    """Reports of epoch 0 from finding -> answer, without those that say nothing."""
    return tuple(Report(name, answer) for name, answer in answers.items() if answer not in SILENT)


def log_sum(values: Floats) -> float:
    """log of the sum of exponentials."""
    return float(np.logaddexp.reduce(values))


def _by_epoch(reports: Sequence[Report]) -> dict[int, list[Report]]:
    result: dict[int, list[Report]] = {}
    for report in reports:
        result.setdefault(report.epoch, []).append(report)
    return result
