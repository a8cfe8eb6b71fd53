"""Numbers that do not add up, and distributions that the mathematics cannot combine."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from nopost.knowledge import model as m
from nopost.knowledge.check_findings import has_answers, has_own_way, is_instrument
from nopost.knowledge.context import Context
from nopost.knowledge.problem import Problem

SLACK = 0.0015
"""How far a sum of probabilities may be from 1: three numbers rounded to the third digit."""


class Table(NamedTuple):
    """A distribution over the answers of a finding, and the place where it stands."""

    folder: str
    item: str
    where: tuple[str, ...]
    finding: m.Finding
    shown: Mapping[str, float]


def sums(context: Context) -> Iterator[Problem]:
    """Distributions add up to 1."""
    for table in (*_of_findings(context), *_of_instruments(context), *_of_causes(context)):
        is_factors = table.folder == "causes" and table.finding.combine is m.Combine.HISTORY
        if not is_factors and not _adds_up(table.shown):
            message = f"the probabilities add up to {sum(table.shown.values()):.4g}"
            yield context.problem(table.folder, table.item, table.where, "sum", message, "make them add up to 1")


def graded_order(context: Context) -> Iterator[Problem]:
    """A cause pushes a graded finding only towards more abnormal than its baseline (noisy-MAX with a leak)."""
    for table in (*_of_findings(context), *_of_causes(context)):
        graded = table.finding.combine is m.Combine.GRADED
        if graded and _adds_up(table.shown) and _has_baseline(table.finding):
            fault = order_fault(table.finding, table.shown)
            if fault:
                yield context.problem(table.folder, table.item, table.where, "graded-order", *fault)


def history_ratios(context: Context) -> Iterator[Problem]:
    """A history finding has a baseline above 0 for each answer, so that ratios mean something."""
    for finding in context.findings.values():
        if finding.combine is m.Combine.HISTORY and has_own_way(finding) and _has_baseline(finding):
            empty = [a for a in finding.answer_ids if finding.baseline.get(a, 0) <= 0]
            if empty:
                message = f"baseline of {', '.join(empty)} is 0"
                yield context.problem("findings", finding.id, ("baseline",), "history-zero", message, "give it a small share")


def unlisted_room(context: Context) -> Iterator[Problem]:
    """There is room for what nobody wrote down."""
    if context.base and not 0 < context.base.unlisted_share < 1:
        yield context.problem("", "", ("unlisted", "share"), "unlisted-share", "must lie between 0 and 1", "0.03 is usual")


CHECKS = (sums, graded_order, history_ratios, unlisted_room)


def order_fault(finding: m.Finding, shown: Mapping[str, float]) -> tuple[str, str] | None:
    """Message and hint when cumulative(shown) / cumulative(baseline) is not a rising share of 1; else None."""
    below, base, last = 0.0, 0.0, 0.0
    for answer in finding.answer_ids:
        below += shown.get(answer, 0.0)
        base += finding.baseline.get(answer, 0.0)
        ratio = below / base if base > 0 else (0.0 if below == 0 else float("inf"))
        if ratio > 1 + SLACK or ratio < last - SLACK:
            message = f"{answer!r} or less abnormal is likelier here than the baseline of {finding.id} allows"
            return message, "give the first answers less, or do not name the finding"
        last = ratio
    return None


def _of_findings(context: Context) -> Iterator[Table]:
    for finding in context.findings.values():
        for key, shown in (("baseline", finding.baseline), ("unnamed", finding.unnamed)):
            if shown and not finding.reads and has_answers(finding, shown):
                yield Table("findings", finding.id, (key,), finding, shown)


def _of_instruments(context: Context) -> Iterator[Table]:
    for finding in context.findings.values():
        for row, shown in finding.reads.table.items() if finding.reads and is_instrument(finding) else ():
            if has_answers(finding, shown):
                yield Table("findings", finding.id, ("reads", "table", row), finding, shown)


def _of_causes(context: Context) -> Iterator[Table]:
    for cause in context.causes.values():
        for name, shown in cause.shows.items():
            finding = context.findings.get(name)
            if finding and has_own_way(finding) and has_answers(finding, shown):
                yield Table("causes", cause.id, ("shows", name), finding, shown)


def _adds_up(shown: Mapping[str, float]) -> bool:
    return abs(sum(shown.values()) - 1) <= SLACK


def _has_baseline(finding: m.Finding) -> bool:
    """Whether others can be measured against its baseline."""
    return has_answers(finding, finding.baseline) and _adds_up(finding.baseline)
