"""The belief model of a knowledge base: arrays compiled once, and the posterior as a function of the evidence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np

from nopost.diagnosis.belief.evidence import Evidence, RepairHistory, Report
from nopost.diagnosis.belief.hypotheses import Floats, Ints, build_hypotheses
from nopost.diagnosis.belief.likelihood import (
    LARGEST_KEPT,
    AnswerLikelihood,
    LazyTables,
    StackedTables,
    answer_likelihood,
    observation_model,
)
from nopost.knowledge.model import ABSENT, UNKNOWN, Knowledge

SILENT = (UNKNOWN, ABSENT)
LEAST_LEFT = 0.005
"""A fix done once may have been done badly, so no cause is ever mended for certain by it (judgement)."""
DECIBAN = np.log(10) / 10
"""One deciban as a natural logarithm (Good: a tenth of a factor ten)."""


class BeliefModel:
    """Hypotheses, likelihoods and chances of one knowledge base.

    `true`, `tables`: finding -> (H, answers) P(true answer, reported answer | hypothesis), made when first asked for. What is
    computed of all hypotheses goes by kinds of causes instead (`AnswerLikelihood`), so that a large base needs no such tables.
    """

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.h = build_hypotheses(knowledge.causes, knowledge.base)
        self.index = {name: k for k, name in enumerate(self.h.causes)}
        self.channels = {f.id: observation_model(f, knowledge.findings) for f in knowledge.findings.values()}
        self._shown: dict[str, AnswerLikelihood] = {}
        self.true = LazyTables(
            [f.id for f in knowledge.findings.values() if f.reads is None], lambda f: self.shown(f).table(self.h)
        )
        self.tables = LazyTables(list(knowledge.findings), self._table)
        self.answer_index = {f.id: {answer: k for k, answer in enumerate(f.answer_ids)} for f in knowledge.findings.values()}
        mending = {action for cause in knowledge.causes.values() for action in cause.fixes}
        self._stays = {a: np.maximum(1 - self.chances([a])[:, 0], LEAST_LEFT) for a in mending}

    @cached_property
    def bearing(self) -> frozenset[str]:
        """Findings whose answers bear on the causes at all."""
        ways = self.channels.items()
        return frozenset(name for name, way in ways if self.shown(way.target).through(way).spread() > 1e-12)

    def shown(self, target: str) -> AnswerLikelihood:
        """P(true answer | hypothesis) by kinds of causes, of a finding that is not an instrument."""
        if target not in self._shown:
            made = answer_likelihood(self.knowledge.findings[target], self.knowledge.causes, self.h, self.knowledge.base)
            if made.pair.size > LARGEST_KEPT:
                return made
            self._shown[target] = made
        return self._shown[target]

    def alone(self, finding: str) -> Floats:
        """(C, answers) P(reported answer | this cause alone)."""
        way = self.channels[finding]
        return self.shown(way.target).through(way).alone()

    def _table(self, finding: str) -> Floats:
        way = self.channels[finding]
        return self.true[way.target] @ way.matrix

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
        total = self.h.log_prior + self.log_course(evidence)
        for cause, decibans, _ in evidence.decibans:
            total = total + decibans * DECIBAN * self.h.has(self.index[cause])
        for cause in evidence.ruled_out:
            total = np.where(self.h.has(self.index[cause]), -np.inf, total)
        return np.asarray(total)

    def left(self, tried: Sequence[str]) -> Floats:
        """(C,) chance that a cause, once there, is still there after these fixes."""
        rest = np.ones(len(self.h.causes))
        for action in tried:
            rest *= self._stays.get(action, 1.0)
        return rest

    def log_course(self, evidence: Evidence) -> Floats:
        """(H,) log P(all that happened | hypothesis)."""
        return self.course(evidence).log() if evidence.tried else self.log_reports([r for r in evidence.reports if not r.epoch])

    def course(self, evidence: Evidence) -> RepairHistory:
        """What happened, in order: the reports, and that the machine still does not start after each fix."""
        epochs = _by_epoch(evidence.reports)
        course = RepairHistory.start(self.h).seen(self.log_reports(epochs.get(0, ())))
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
            shown = self.shown(target)
            if target in before:
                both, earlier = shown.chance(self.h, seen * before[target]), shown.chance(self.h, before[target])
                total += np.log(both) - np.log(earlier)
            else:
                total += np.log(shown.chance(self.h, seen))
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
        return self.predicted(finding, evidence).table(self.h)

    def predict_some(self, findings: Sequence[str], evidence: Evidence, hypotheses: Ints) -> list[Floats]:
        """The same of many findings for some (N,) hypotheses: (N, answers) each."""
        tables = self._stack.of(findings, hypotheses)
        return [
            self.predict_now(finding, evidence)[hypotheses] if self._same(finding, evidence) else table
            for finding, table in zip(findings, tables, strict=True)
        ]

    @cached_property
    def _stack(self) -> StackedTables:
        return StackedTables((name, self.predict_now(name, Evidence())) for name in self.channels)

    def predicted(self, finding: str, evidence: Evidence) -> AnswerLikelihood:
        """The same by kinds of causes."""
        way = self.channels[finding]
        shown, same = self.shown(way.target), self._same(finding, evidence)
        return (shown.given(self._by_target(same)[way.target]) if same else shown).through(way)

    def _same(self, finding: str, evidence: Evidence) -> list[Report]:
        """What else is known of the same target and still stands."""
        epoch = len(evidence.tried)
        target = self.channels[finding].target
        known = [r for r in evidence.reports if r.epoch == epoch]
        known += [r for r in evidence.standing(epoch) if r.finding != finding]
        return [r for r in known if self.channels[r.finding].target == target]


def as_reports(answers: Mapping[str, str]) -> tuple[Report, ...]:
    """Reports of epoch 0 from finding -> answer, without those that say nothing."""
    return tuple(Report(name, answer) for name, answer in answers.items() if answer not in SILENT)


def log_sum(values: Floats) -> float:
    """log of the sum of exponentials."""
    return float(log_sums(values[None])[0])


def log_sums(rows: Floats) -> Floats:
    """(N,) log of the sum of exponentials of each row."""
    most = rows.max(axis=1, keepdims=True, initial=-np.inf)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.exp(rows - np.where(np.isfinite(most), most, 0.0)).sum(axis=1)) + most[:, 0])


def _by_epoch(reports: Sequence[Report]) -> dict[int, list[Report]]:
    result: dict[int, list[Report]] = {}
    for report in reports:
        result.setdefault(report.epoch, []).append(report)
    return result
