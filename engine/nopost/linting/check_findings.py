"""Findings: instruments, answers, and distributions over answers that the mathematics cannot combine.

A finding either is an instrument of another or has its own way to combine causes. Distributions add up to 1; in a graded finding
a cause only pushes towards more abnormal than the baseline (noisy-MAX with a leak, Díez 1993).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from nopost.knowledge import model as m
from nopost.knowledge.distributions import adds_up, order_fault
from nopost.knowledge.model import Combine
from nopost.knowledge.problem import Problem
from nopost.knowledge.source_files import PartialKnowledge
from nopost.linting.lint_context import ItemProblem, LintContext


def combination(context: PartialKnowledge) -> Iterator[Problem]:
    """A finding either is an instrument of another or has its own way to combine, with a baseline."""
    for finding in context.findings.values():
        if own := _own_combination(finding) if finding.reads else ():
            message = f"an instrument (reads) that also has {', '.join(own)}"
            hint = f"delete reads: or delete {' and '.join(f'{key}:' for key in own)}"
            yield context.problem("findings", finding.id, (own[0],), "reads-combine", message, hint)
        elif not finding.reads and (finding.combine is None or not finding.baseline):
            message = "neither an instrument (reads) nor a finding with combine and baseline"
            yield context.problem("findings", finding.id, (), "no-combine", message, "add combine: graded and a baseline:")


def test_without_question(context: PartialKnowledge) -> Iterator[Problem]:
    """What a test reveals is asked."""
    for finding in context.findings.values():
        if finding.action and not finding.question:
            yield context.problem(
                "findings", finding.id, ("action",), "no-question", "a test without a question", "add question:"
            )


def clashing_answer_ids(context: PartialKnowledge) -> Iterator[Problem]:
    """Each answer has an id of its own."""
    for finding in context.findings.values():
        if answers_clash(finding):
            hint = f"each once, and neither {m.UNKNOWN} nor {m.ABSENT}"
            yield context.problem("findings", finding.id, ("answers",), "answer-ids", "answer ids clash", hint)


def instrument_rows(context: PartialKnowledge) -> Iterator[Problem]:
    """An instrument has a row for each answer of what it reads, which is no instrument."""
    for finding in context.findings.values():
        target = context.findings.get(finding.reads.finding) if finding.reads else None
        if not finding.reads or not target or not is_instrument(finding):
            continue
        if is_instrument(target):
            message = f"{target.id} is itself an instrument"
            yield context.problem(
                "findings", finding.id, ("reads", "finding"), "reads-chain", message, "read the finding behind it"
            )
            continue
        missing = [answer for answer in target.answer_ids if answer not in finding.reads.table]
        if missing and has_own_combination(target) and has_answers(target, finding.reads.table):
            message = f"no row for {target.id} = {', '.join(missing)}"
            yield context.problem("findings", finding.id, ("reads", "table"), "reads-row", message, f"add {missing[0]}:")


FINDING_CHECKS = (combination, test_without_question, clashing_answer_ids, instrument_rows)


def is_instrument(finding: m.Finding) -> bool:
    """Whether it is an instrument, and nothing else."""
    return finding.reads is not None and not _own_combination(finding)


def has_own_combination(finding: m.Finding) -> bool:
    """Whether it has a way to combine, and is no instrument."""
    return finding.reads is None and finding.combine is not None


def answers_clash(finding: m.Finding) -> bool:
    """Whether an id stands twice or is a reserved one."""
    ids = finding.answer_ids
    return len(set(ids)) < len(ids) or bool({m.UNKNOWN, m.ABSENT} & set(ids))


def has_answers(finding: m.Finding, named: Iterable[str]) -> bool:
    """Whether these are answers of it, and none of its own clash."""
    return not answers_clash(finding) and set(named) <= set(finding.answer_ids)


def _own_combination(finding: m.Finding) -> tuple[str, ...]:
    """What it has of its own."""
    keys = {"combine": finding.combine, "baseline": finding.baseline, "unnamed": finding.unnamed}
    return tuple(key for key, value in keys.items() if value)


class Distribution(NamedTuple):
    """A distribution over the answers of a finding, and the place where it stands."""

    folder: str
    item: str
    where: tuple[str, ...]
    finding: m.Finding
    shown: Mapping[str, float]


def probability_sums(context: PartialKnowledge) -> Iterator[Problem]:
    """Distributions add up to 1."""
    for table in (
        *_distributions_of_findings(context),
        *_distributions_of_instruments(context),
        *_distributions_of_causes(context),
    ):
        is_factors = table.folder == "causes" and table.finding.combine is m.Combine.HISTORY
        if not is_factors and not adds_up(table.shown):
            message = f"the probabilities add up to {sum(table.shown.values()):.4g}"
            yield context.problem(table.folder, table.item, table.where, "sum", message, "make them add up to 1")


def graded_order(context: PartialKnowledge) -> Iterator[Problem]:
    """A cause pushes a graded finding only towards more abnormal than its baseline (noisy-MAX with a leak)."""
    for table in (*_distributions_of_findings(context), *_distributions_of_causes(context)):
        graded = table.finding.combine is m.Combine.GRADED
        if graded and adds_up(table.shown) and _has_baseline(table.finding):
            fault = order_fault(table.finding, table.shown)
            if fault:
                message = f"{fault.answer.id!r} or less abnormal is likelier here than the baseline of {table.finding.id} allows"
                hint = "give the first answers less, or do not name the finding"
                yield context.problem(table.folder, table.item, table.where, "graded-order", message, hint)


def history_ratios(context: PartialKnowledge) -> Iterator[Problem]:
    """A history finding has a baseline above 0 for each answer, so that ratios mean something."""
    for finding in context.findings.values():
        if finding.combine is m.Combine.HISTORY and has_own_combination(finding) and _has_baseline(finding):
            empty = [a for a in finding.answer_ids if finding.baseline.get(a, 0) <= 0]
            if empty:
                message = f"baseline of {', '.join(empty)} is 0"
                yield context.problem("findings", finding.id, ("baseline",), "history-zero", message, "give it a small share")


def unlisted_share(context: PartialKnowledge) -> Iterator[Problem]:
    """There is room for what nobody wrote down."""
    if context.base and not 0 < context.base.unlisted_share < 1:
        yield context.problem("", "", ("unlisted", "share"), "unlisted-share", "must lie between 0 and 1", "0.03 is usual")


NUMBER_CHECKS = (probability_sums, graded_order, history_ratios, unlisted_share)


def _distributions_of_findings(context: PartialKnowledge) -> Iterator[Distribution]:
    for finding in context.findings.values():
        for key, shown in (("baseline", finding.baseline), ("unnamed", finding.unnamed)):
            if shown and not finding.reads and has_answers(finding, shown):
                yield Distribution("findings", finding.id, (key,), finding, shown)


def _distributions_of_instruments(context: PartialKnowledge) -> Iterator[Distribution]:
    for finding in context.findings.values():
        for row, shown in finding.reads.table.items() if finding.reads and is_instrument(finding) else ():
            if has_answers(finding, shown):
                yield Distribution("findings", finding.id, ("reads", "table", row), finding, shown)


def _distributions_of_causes(context: PartialKnowledge) -> Iterator[Distribution]:
    for cause in context.causes.values():
        for name, shown in cause.shows.items():
            finding = context.findings.get(name)
            if finding and has_own_combination(finding) and has_answers(finding, shown):
                yield Distribution("causes", cause.id, ("shows", name), finding, shown)


def _has_baseline(finding: m.Finding) -> bool:
    """Whether others can be measured against its baseline."""
    return has_answers(finding, finding.baseline) and adds_up(finding.baseline)


def answer_order(view: LintContext) -> Iterator[ItemProblem]:
    """In a graded finding the most abnormal answer, the last, is not the usual one: no cause could push it further."""
    for finding in view.knowledge.findings.values():
        if finding.combine is Combine.GRADED and finding.baseline:
            usual = max(finding.answer_ids, key=lambda answer: finding.baseline.get(answer, 0.0))
            if usual == finding.answer_ids[-1]:
                message = f"the last answer, {usual!r}, stands for the most abnormal and is the usual one"
                hint = "order the answers from least to most abnormal"
                yield view.remark("findings", finding.id, ("answers",), "answer-order", message, hint)


ANSWER_ORDER_CHECKS = (answer_order,)
