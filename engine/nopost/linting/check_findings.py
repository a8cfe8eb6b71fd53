"""Findings: instruments, answers, and distributions over answers that the mathematics cannot combine.

A finding either is an instrument of another or has its own way to combine causes. Distributions add up to 1; in a graded finding
a cause only pushes towards more abnormal than the baseline (noisy-MAX with a leak, Díez 1993).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from nopost.knowledge import model as m
from nopost.knowledge.distributions import adds_up, order_fault
from nopost.knowledge.problem import Problem, ProblemCode
from nopost.knowledge.source_files import PartialKnowledge
from nopost.linting.lint_check import Check, Stage


class ReadsAndCombines(Check):
    """What an instrument shows comes from what it reads, so it has no way to combine of its own."""

    code = ProblemCode(
        "reads-combine",
        "An instrument with a way to combine of its own",
        "An instrument takes everything from what it reads.",
        "Delete reads:, or the keys of its own.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for finding in self.items.findings.values():
            if own := finding.own_combination if finding.reads else ():
                message = f"an instrument (reads) that also has {', '.join(own)}"
                hint = f"delete reads: or delete {' and '.join(f'{key}:' for key in own)}"
                yield self.problem("findings", finding.id, (own[0],), message, hint)


class NoCombination(Check):
    """What is no instrument has its own way to combine, with a baseline."""

    code = ProblemCode(
        "no-combine",
        "A finding that says neither what it reads nor how causes meet",
        "Without it nothing can be computed.",
        "Add combine: and baseline:, or reads:.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for finding in self.items.findings.values():
            if not finding.reads and (finding.combine is None or not finding.baseline):
                message = "neither an instrument (reads) nor a finding with combine and baseline"
                yield self.problem("findings", finding.id, (), message, "add combine: graded and a baseline:")


class NoQuestion(Check):
    """What a test reveals is asked."""

    code = ProblemCode(
        "no-question",
        "A test that ends without a question",
        "What it shows could not be told.",
        "Add question:.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for finding in self.items.findings.values():
            if finding.action and not finding.question:
                yield self.problem("findings", finding.id, ("action",), "a test without a question", "add question:")


class AnswerIds(Check):
    """Each answer has an id of its own."""

    code = ProblemCode(
        "answer-ids",
        "Answer ids that clash",
        "An answer must be known by its id alone.",
        "Use each id once; not the reserved ones.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for finding in self.items.findings.values():
            if finding.answers_clash:
                hint = f"each once, and neither {m.UNKNOWN} nor {m.ABSENT}"
                yield self.problem("findings", finding.id, ("answers",), "answer ids clash", hint)


class Distribution(NamedTuple):
    """A distribution over the answers of a finding, and the place where it stands."""

    folder: str
    item: str
    where: tuple[str, ...]
    finding: m.Finding
    shown: Mapping[str, float]


class ProbabilitySum(Check):
    """Distributions add up to 1."""

    code = ProblemCode(
        "sum",
        "Probabilities that do not add up to 1",
        "They are shares of one whole.",
        "Make them add up to 1.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for table in (
            *_distributions_of_findings(self.items),
            *_distributions_by_parent(self.items),
            *_distributions_of_causes(self.items),
        ):
            if not adds_up(table.shown):
                message = f"the probabilities add up to {sum(table.shown.values()):.4g}"
                yield self.problem(table.folder, table.item, table.where, message, "make them add up to 1")


class GradedOrder(Check):
    """A cause pushes a graded finding only towards more abnormal than its baseline (noisy-MAX with a leak)."""

    code = ProblemCode(
        "graded-order",
        "A cause that makes a graded finding look healthier than no fault at all",
        "Causes meet by noisy-MAX, in which each can only push towards more abnormal.",
        "Give the first answers less, or do not name the finding.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for table in (*_distributions_of_findings(self.items), *_distributions_of_causes(self.items)):
            graded = table.finding.combine is m.Combine.GRADED
            if graded and adds_up(table.shown) and _has_baseline(table.finding):
                fault = order_fault(table.finding, table.shown)
                if fault:
                    message = (
                        f"{fault.answer.id!r} or less abnormal is likelier here than the baseline of {table.finding.id} allows"
                    )
                    hint = "give the first answers less, or do not name the finding"
                    yield self.problem(table.folder, table.item, table.where, message, hint)


class HistoryZero(Check):
    """A history finding has a baseline above 0 for each answer, so that ratios mean something."""

    code = ProblemCode(
        "history-zero",
        "A baseline of 0 in a history finding",
        "Times as likely as never is still never.",
        "Give it a small share.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for finding in self.items.findings.values():
            if finding.combine is m.Combine.HISTORY and finding.has_own_combination and _has_baseline(finding):
                empty = [a for a in finding.answer_ids if finding.baseline.get(a, 0) <= 0]
                if empty:
                    message = f"baseline of {', '.join(empty)} is 0"
                    yield self.problem("findings", finding.id, ("baseline",), message, "give it a small share")


class UnlistedShare(Check):
    """There is room for what nobody wrote down."""

    code = ProblemCode(
        "unlisted-share",
        "No room for what nobody wrote down",
        "The true cause may not be listed.",
        "A share of 0.03 is usual.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        if self.items.base and not 0 < self.items.base.unlisted_share < 1:
            yield self.problem("", "", ("unlisted", "share"), "must lie between 0 and 1", "0.03 is usual")


def _distributions_of_findings(items: PartialKnowledge) -> Iterator[Distribution]:
    for finding in items.findings.values():
        for key, shown in (("baseline", finding.baseline), ("unnamed", finding.unnamed)):
            if shown and not finding.reads and finding.has_answers(shown):
                yield Distribution("findings", finding.id, (key,), finding, shown)


def _distributions_by_parent(items: PartialKnowledge) -> Iterator[Distribution]:
    for finding in items.findings.values():
        place = ("reads", "table") if finding.reads else ("given",)
        for row, shown in finding.parent_table.items() if not finding.reads or finding.is_instrument else ():
            if finding.has_answers(shown):
                yield Distribution("findings", finding.id, (*place, row), finding, shown)
    for cause in items.causes.values():
        for name, rows in cause.shows_given.items():
            of_cause = items.findings.get(name)
            for row, shown in rows.items() if of_cause else ():
                if of_cause and of_cause.has_answers(shown):
                    yield Distribution("causes", cause.id, ("shows_given", name, row), of_cause, shown)


def _distributions_of_causes(items: PartialKnowledge) -> Iterator[Distribution]:
    for cause in items.causes.values():
        for name, shown in cause.shows.items():
            finding = items.findings.get(name)
            is_factors = finding and finding.combine is m.Combine.HISTORY
            if finding and finding.has_own_combination and finding.has_answers(shown) and not is_factors:
                yield Distribution("causes", cause.id, ("shows", name), finding, shown)


def _has_baseline(finding: m.Finding) -> bool:
    """Whether others can be measured against its baseline."""
    return finding.has_answers(finding.baseline) and adds_up(finding.baseline)


class AnswerOrder(Check):
    """In a graded finding the most abnormal answer, the last, is not the usual one: no cause could push it further."""

    code = ProblemCode(
        "answer-order",
        "A graded finding whose answers seem to run backwards",
        "Answers go from least to most abnormal. When the last one is the usual one, no cause can push it any further.",
        "Turn the order round, and check the numbers of the causes.",
    )

    def run(self) -> Iterator[Problem]:
        for finding in self.knowledge.findings.values():
            if finding.combine is m.Combine.GRADED and finding.baseline:
                usual = max(finding.answer_ids, key=lambda answer: finding.baseline.get(answer, 0.0))
                if usual == finding.answer_ids[-1]:
                    message = f"the last answer, {usual!r}, stands for the most abnormal and is the usual one"
                    hint = "order the answers from least to most abnormal"
                    yield self.problem("findings", finding.id, ("answers",), message, hint)


CHECKS = (
    ReadsAndCombines,
    NoCombination,
    NoQuestion,
    AnswerIds,
    ProbabilitySum,
    GradedOrder,
    HistoryZero,
    UnlistedShare,
    AnswerOrder,
)
