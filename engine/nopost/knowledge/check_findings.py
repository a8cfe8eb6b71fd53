"""Findings that are neither an instrument nor have a way to combine, or whose answers clash."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from nopost.knowledge import model as m
from nopost.knowledge.context import Context
from nopost.knowledge.problem import Problem


def ways(context: Context) -> Iterator[Problem]:
    """A finding either is an instrument of another or has its own way to combine, with a baseline."""
    for finding in context.findings.values():
        if own := _own_way(finding) if finding.reads else ():
            message = f"an instrument (reads) that also has {', '.join(own)}"
            hint = f"delete reads: or delete {' and '.join(f'{key}:' for key in own)}"
            yield context.problem("findings", finding.id, (own[0],), "reads-combine", message, hint)
        elif not finding.reads and (finding.combine is None or not finding.baseline):
            message = "neither an instrument (reads) nor a finding with combine and baseline"
            yield context.problem("findings", finding.id, (), "no-combine", message, "add combine: graded and a baseline:")


def questions(context: Context) -> Iterator[Problem]:
    """What a test reveals is asked."""
    for finding in context.findings.values():
        if finding.action and not finding.question:
            yield context.problem(
                "findings", finding.id, ("action",), "no-question", "a test without a question", "add question:"
            )


def answer_ids(context: Context) -> Iterator[Problem]:
    """Each answer has an id of its own."""
    for finding in context.findings.values():
        if answers_clash(finding):
            hint = f"each once, and neither {m.UNKNOWN} nor {m.ABSENT}"
            yield context.problem("findings", finding.id, ("answers",), "answer-ids", "answer ids clash", hint)


def readings(context: Context) -> Iterator[Problem]:
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
        if missing and has_own_way(target) and has_answers(target, finding.reads.table):
            message = f"no row for {target.id} = {', '.join(missing)}"
            yield context.problem("findings", finding.id, ("reads", "table"), "reads-row", message, f"add {missing[0]}:")


CHECKS = (ways, questions, answer_ids, readings)


def is_instrument(finding: m.Finding) -> bool:
    """Whether it is an instrument, and nothing else."""
    return finding.reads is not None and not _own_way(finding)


def has_own_way(finding: m.Finding) -> bool:
    """Whether it has a way to combine, and is no instrument."""
    return finding.reads is None and finding.combine is not None


def answers_clash(finding: m.Finding) -> bool:
    """Whether an id stands twice or is a reserved one."""
    ids = finding.answer_ids
    return len(set(ids)) < len(ids) or bool({m.UNKNOWN, m.ABSENT} & set(ids))


def has_answers(finding: m.Finding, named: Iterable[str]) -> bool:
    """Whether these are answers of it, and none of its own clash."""
    return not answers_clash(finding) and set(named) <= set(finding.answer_ids)


def _own_way(finding: m.Finding) -> tuple[str, ...]:
    """What it has of its own."""
    keys = {"combine": finding.combine, "baseline": finding.baseline, "unnamed": finding.unnamed}
    return tuple(key for key, value in keys.items() if value)
