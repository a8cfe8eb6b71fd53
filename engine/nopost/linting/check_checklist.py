"""The fixed checklist of the trade, `checklist.yaml` beside a knowledge base: its entries, and what is wrong with it."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from nopost.knowledge.model import Knowledge
from nopost.knowledge.problem import Problem, ProblemCode, nearest_hint
from nopost.knowledge.schema import schema_problems
from nopost.knowledge.yaml_reader import Document, read_yaml
from nopost.linting.lint_check import Check, LintContext

CHECKLIST_FILE, CHECKLIST_SCHEMA = "checklist.yaml", "checklist.schema.json"


@dataclass(frozen=True, slots=True)
class ChecklistEntry:
    """One entry: a finding to look at or a fix to do; the fix only after one of `answers` to the finding, where there are any."""

    look: str = ""
    answers: tuple[str, ...] = ()
    do: str = ""


LIST_NAME = ProblemCode(
    "list-name",
    "A name in checklist.yaml that leads nowhere",
    "The fixed checklist, against which the advice is measured, asks for a finding, answer or fix that there is not.",
    "Correct the name, or take the entry out.",
)
LIST_ANSWERS = ProblemCode(
    "list-answers",
    "Answers in checklist.yaml without a finding or a fix",
    "is says after which answers to look the fix under do is done; without both of them it says nothing.",
    "Write look, is and do, or leave is out.",
)


class ChecklistNames(Check):
    """The checklist can be read, and names only what is there. What a reader or schema says of it comes with their own codes."""

    code = LIST_NAME

    def run(self) -> Iterator[Problem]:
        for problem in _problems(self.context):
            if problem.code != LIST_ANSWERS.name:
                yield problem


class ChecklistAnswers(Check):
    """Answers stand only between a finding to look at and a fix to do."""

    code = LIST_ANSWERS

    def run(self) -> Iterator[Problem]:
        for problem in _problems(self.context):
            if problem.code == self.code.name:
                yield problem


CHECKS = (ChecklistNames, ChecklistAnswers)


def _problems(context: LintContext) -> Iterator[Problem]:
    for problem in examine_checklist(context.knowledge, context.root, CHECKLIST_FILE)[1]:
        yield replace(problem, about=("checklist",))


def examine_checklist(knowledge: Knowledge, folder: Path, shown_as: str = "") -> tuple[tuple[ChecklistEntry, ...], list[Problem]]:
    """The entries and the problems of the checklist in a knowledge base's folder; neither when there is none."""
    path = folder / CHECKLIST_FILE
    if not os.path.lexists(path):
        return (), []
    document, found = read_yaml(path, shown_as or None, folder)
    problems = [*found] or schema_problems(document, CHECKLIST_SCHEMA) or sorted(_name_problems(document, knowledge))
    return (() if problems else tuple(map(_entry, document.data["order"]))), [*problems]


def _entry(data: Mapping[str, Any]) -> ChecklistEntry:
    return ChecklistEntry(data.get("look", ""), tuple(data.get("is", ())), data.get("do", ""))


def _name_problems(document: Document, knowledge: Knowledge) -> Iterator[Problem]:
    """Names that the knowledge base does not have, and answers without a finding or a fix."""
    fixes = {a.id for a in knowledge.actions.values() if a.kind == "fix"}
    for k, entry in enumerate(map(_entry, document.data["order"])):
        if entry.answers and not (entry.look and entry.do):
            hint = "write look, is and do, or leave is out"
            yield LIST_ANSWERS.at(document.path, document.line(("order", k)), "is needs both look and do", hint)
            continue
        finding = knowledge.findings.get(entry.look)
        known = [
            ("look", "finding", [entry.look] if entry.look else [], [f.id for f in knowledge.findings.values() if f.question]),
            ("is", f"answer to {entry.look}", entry.answers, finding.answer_ids if finding else entry.answers),
            ("do", "fix", [entry.do] if entry.do else [], fixes),
        ]
        for key, what, names, allowed in known:
            for name in set(names) - set(allowed):
                line = document.line(("order", k, key))
                hint = nearest_hint(name, allowed, "correct it, or take the entry out", most=3)
                yield LIST_NAME.at(document.path, line, f"no {what} is called {name!r}", hint)
