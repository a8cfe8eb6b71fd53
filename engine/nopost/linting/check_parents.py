"""Findings that depend on another finding: the parent of a finding, and what an instrument reads.

Each has at most one, so that the findings make a forest, with a row of chances for each of its answers.
"""

from __future__ import annotations

from collections.abc import Iterator

from nopost.knowledge import model as m
from nopost.knowledge.problem import Problem, ProblemCode
from nopost.knowledge.source_files import PartialKnowledge
from nopost.linting.lint_check import Check, Stage


class ParentCircle(Check):
    """Nothing depends on itself by way of parents and instruments."""

    code = ProblemCode(
        "parent-circle",
        "Findings that depend on each other in a circle",
        "What an answer depends on must be there before it.",
        "Take parent: or reads: out of one of them.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        told: set[str] = set()
        for finding in self.items.findings.values():
            circle = _circle(self.items, finding)
            if circle and not told & set(circle):
                told.update(circle)
                where = ("reads", "finding") if finding.reads else ("parent",)
                message = f"depends on itself: {' on '.join((*circle, circle[0]))}"
                yield self.problem("findings", finding.id, where, message, "take the parent out of one of them")


def _circle(items: PartialKnowledge, finding: m.Finding) -> tuple[str, ...]:
    """The findings from this one up to itself; none when it does not depend on itself."""
    path = [finding.id]
    while (above := items.findings.get(path[-1])) and above.parent_finding not in path:
        path.append(above.parent_finding)
    return tuple(path) if above and above.parent_finding == finding.id else ()


class ReadsRow(Check):
    """An instrument has a row for each answer of what it reads."""

    code = ProblemCode(
        "reads-row",
        "An instrument without a row for some answer",
        "It must say what it shows for each answer of what it reads.",
        "Add the row.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for finding, parent in _children(self.items):
            if finding.is_instrument and (missing := _missing_rows(finding, parent)):
                message = f"no row for {parent.id} = {', '.join(missing)}"
                yield self.problem("findings", finding.id, ("reads", "table"), message, f"add {missing[0]}:")


class GivenRow(Check):
    """A finding with a parent has a row for each answer of the parent."""

    code = ProblemCode(
        "given-row",
        "A finding with a parent without a row for some answer of it",
        "It must say what is usual for each answer of the parent.",
        "Add the row under given:.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for finding, parent in _children(self.items):
            if not finding.reads and (missing := _missing_rows(finding, parent)):
                message = f"no row for {parent.id} = {', '.join(missing)}"
                yield self.problem("findings", finding.id, ("given",), message, f"add {missing[0]}:")


def _children(items: PartialKnowledge) -> Iterator[tuple[m.Finding, m.Finding]]:
    """Each finding that depends on another, with that one."""
    for finding in items.findings.values():
        parent = items.findings.get(finding.parent_finding)
        if parent:
            yield finding, parent


def _missing_rows(finding: m.Finding, parent: m.Finding) -> list[str]:
    """Answers of the parent without a row; none while the answers themselves are wrong."""
    missing = [answer for answer in parent.answer_ids if answer not in finding.parent_table]
    return missing if parent.has_answers(finding.parent_table) else []


class OutrightWithoutParent(Check):
    """A cause gives chances by the parent's answer only for a finding that has a parent."""

    code = ProblemCode(
        "given-no-parent",
        "Chances by a parent's answer for a finding without a parent",
        "There is nothing whose answer they could depend on.",
        "Write them under shows:, or give the finding a parent.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for cause in self.items.causes.values():
            for name in cause.shows_given:
                finding = self.items.findings.get(name)
                if finding and not finding.reads and not finding.parent:
                    message = f"{name} has no parent"
                    yield self.problem("causes", cause.id, ("shows_given", name), message, "write it under shows:")


CHECKS = (ParentCircle, ReadsRow, GivenRow, OutrightWithoutParent)
