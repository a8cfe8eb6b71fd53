"""Read case files outside a knowledge base, and check them like those inside."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path

from nopost.diagnosis.history import check_answer, check_tried
from nopost.errors import KnowledgeError, UnknownNameError
from nopost.firmware.records import records_of
from nopost.knowledge.build import KINDS
from nopost.knowledge.model import Case, Knowledge
from nopost.knowledge.problem import Problem
from nopost.knowledge.schema import schema_problems
from nopost.knowledge.yaml_reader import Document, read_yaml

PlaceInCase = tuple[str | int, ...]


def read_cases(paths: Iterable[Path], knowledge: Knowledge) -> list[Case]:
    """Cases of files and of folders, in order of their names. Raises KnowledgeError with all problems of all files."""
    cases, problems = [], []
    for path in _case_paths(paths):
        document, found = read_yaml(path)
        found = [*found] or schema_problems(document, KINDS["cases"].schema)
        if not found:
            case = KINDS["cases"].build(document.data)
            found = list(_problems(document, case, knowledge))
            cases.append(case)
        problems += found
    if problems:
        raise KnowledgeError(sorted(problems))
    return cases


def _case_paths(paths: Iterable[Path]) -> Iterator[Path]:
    for path in paths:
        if path.is_dir():
            yield from sorted(each for each in path.iterdir() if each.suffix in (".yaml", ".yml"))
        else:
            yield path


def name_problems(case: Case, knowledge: Knowledge) -> Iterator[tuple[PlaceInCase, UnknownNameError]]:
    """Names of a case that the knowledge base does not have, with their place in it."""
    checks: list[tuple[PlaceInCase, Callable[[], object]]] = [
        *((("answers", finding), partial(check_answer, knowledge, finding, answer)) for finding, answer in case.answers.items()),
        *((("tried", k), partial(check_tried, knowledge, *each)) for k, each in enumerate(case.tried)),
        (("expect", "cause"), partial(_check_cause, knowledge, case.expect.get("cause", ""))),
        (("records",), partial(records_of, case.records, knowledge)),
    ]
    for where, check in checks:
        try:
            check()
        except UnknownNameError as error:
            yield where, error


def _check_cause(knowledge: Knowledge, cause: str) -> None:
    if cause and cause not in knowledge.causes:
        raise UnknownNameError("cause", cause, knowledge.causes)


def _problems(document: Document, case: Case, knowledge: Knowledge) -> Iterator[Problem]:
    for where, error in name_problems(case, knowledge):
        yield Problem(document.path, document.line(where), "unknown-name", str(error), "give an id of the knowledge base")
