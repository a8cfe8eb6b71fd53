"""Findings whose order of answers leaves the causes no room."""

from __future__ import annotations

from collections.abc import Iterator

from nopost.knowledge.model import Combine
from nopost.review.remark import Remark
from nopost.review.view import View


def answer_order(view: View) -> Iterator[Remark]:
    """In a graded finding the most abnormal answer, the last, is not the usual one: no cause could push it further."""
    for finding in view.knowledge.findings.values():
        if finding.combine is Combine.GRADED and finding.baseline:
            usual = max(finding.answer_ids, key=lambda answer: finding.baseline.get(answer, 0.0))
            if usual == finding.answer_ids[-1]:
                message = f"the last answer, {usual!r}, stands for the most abnormal and is the usual one"
                hint = "order the answers from least to most abnormal"
                yield view.remark("findings", finding.id, ("answers",), "answer-order", message, hint)


CHECKS = (answer_order,)
