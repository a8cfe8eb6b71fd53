"""Answers that come in one go: from options or from a file, checked before anything is done with them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from nopost.diagnosis.history import check_answer, check_tried
from nopost.errors import KnowledgeError, NopostError, UnknownNameError
from nopost.knowledge import build
from nopost.knowledge.model import Knowledge
from nopost.knowledge.problem import Problem
from nopost.knowledge.yaml_reader import Document, read_yaml


@dataclass
class GivenAnswers:
    """Answers (finding, answer), fixes tried (action, outcome) and records (as in a case file), in order."""

    answers: list[tuple[str, str]] = field(default_factory=list)
    tried: list[tuple[str, str]] = field(default_factory=list)
    records: dict[str, Any] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.answers or self.tried)


def read_answers(name: str, knowledge: Knowledge) -> GivenAnswers:
    """The answers of a case of the knowledge base, or of a file: a mapping finding -> answer, or a case file (YAML or JSON).

    Raises KnowledgeError with file and line.
    """
    if name in knowledge.cases:
        case = knowledge.cases[name]
        return GivenAnswers(list(case.answers.items()), list(case.tried), dict(case.records))
    document = _read(Path(name))
    problems = [*_answer_problems(document, knowledge), *_tried_problems(document, knowledge)]
    if problems:
        raise KnowledgeError(problems)
    case = build.case(document.data)
    return GivenAnswers(list(case.answers.items()), list(case.tried), dict(case.records))


def _read(path: Path) -> Document:
    """The file as a case, valid against the schema; a plain mapping is taken as its answers."""
    from nopost.knowledge.schema import schema_problems

    document, problems = read_yaml(path)
    if not problems and not isinstance(document.data, dict):
        hint = "write lines such as screen: no-signal"
        problems = [Problem(document.path, 1, "no-answers", "no mapping of findings to answers", hint)]
    if not problems:
        if not {"answers", "tried"} & document.data.keys():
            lines = {("answers", *where): line for where, line in document.lines.items()}
            document = Document(document.path, {"answers": document.data}, lines)
        document.data = {"id": "given", "title": "Answers that were given", "source": "given by the person", **document.data}
        problems = schema_problems(document, "case.schema.json")
    if problems:
        raise KnowledgeError(problems)
    return document


def _answer_problems(document: Document, knowledge: Knowledge) -> Iterator[Problem]:
    for finding, answer in document.data.get("answers", {}).items():
        try:
            check_answer(knowledge, finding, answer)
        except UnknownNameError as error:
            yield Problem(document.path, document.line(("answers", finding)), "unknown-answer", str(error))


def _tried_problems(document: Document, knowledge: Knowledge) -> Iterator[Problem]:
    for index, entry in enumerate(document.data.get("tried", ())):
        try:
            check_tried(knowledge, entry["action"], entry["outcome"])
        except UnknownNameError as error:
            yield Problem(document.path, document.line(("tried", index)), "unknown-name", str(error))


def split_pairs(texts: Iterable[str], option: str) -> list[tuple[str, str]]:
    """NAME=VALUE texts as pairs. Raises NopostError."""
    pairs = []
    for text in texts:
        name, mark, value = text.partition("=")
        if not mark or not name.strip() or not value.strip():
            raise NopostError(f"{option} {text}: write it as NAME=VALUE, such as screen=no-signal")
        pairs.append((name.strip(), value.strip()))
    return pairs
