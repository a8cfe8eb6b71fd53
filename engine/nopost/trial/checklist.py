"""The fixed checklist of the trade, read from `checklist.yaml` beside a knowledge base: what the advice is measured against."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nopost.errors import KnowledgeError
from nopost.knowledge.model import Knowledge
from nopost.knowledge.problem import Problem
from nopost.knowledge.schema import schema_problems
from nopost.knowledge.yaml_file import Document, read_yaml
from nopost.paths import data_dir

FILE, SCHEMA = "checklist.yaml", "checklist.schema.json"


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: a finding to look at or a fix to do; the fix only after one of `answers` to the finding, where there are any."""

    look: str = ""
    answers: tuple[str, ...] = ()
    do: str = ""


def read_checklist(knowledge: Knowledge, folder: Path | None = None) -> tuple[Entry, ...]:
    """The checklist in a knowledge base's folder (the shipped one when None); empty when there is none. Raises KnowledgeError."""
    path = (folder or data_dir("kb")) / FILE
    if not path.is_file():
        return ()
    document, found = read_yaml(path)
    problems = [*found] or schema_problems(document, SCHEMA) or sorted(_name_problems(document, knowledge))
    if problems:
        raise KnowledgeError(problems)
    return tuple(_entry(data) for data in document.data["order"])


def _entry(data: Mapping[str, Any]) -> Entry:
    return Entry(data.get("look", ""), tuple(data.get("is", ())), data.get("do", ""))


def _name_problems(document: Document, knowledge: Knowledge) -> Iterator[Problem]:
    """Names that the knowledge base does not have, and answers without a finding or a fix."""
    fixes = {a.id for a in knowledge.actions.values() if a.kind == "fix"}
    for k, entry in enumerate(map(_entry, document.data["order"])):
        if entry.answers and not (entry.look and entry.do):
            hint = "write look, is and do, or leave is out"
            yield Problem(document.path, document.line(("order", k)), "stray-answers", "is needs both look and do", hint)
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
                yield Problem(document.path, line, "unknown-name", f"no {what} is called {name!r}")
