"""Judged situations: partial knowledge of a machine, and how likely somebody who knows the trade holds each cause then.

Numbers that are set one by one drift from what the same judgement says of a whole machine: many small shares multiply. Here whole
machines are judged, and `judgement_fit` moves the numbers towards that.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nopost.errors import KnowledgeError
from nopost.evaluation.case_files import name_problems
from nopost.knowledge.model import Case, Knowledge
from nopost.knowledge.problem import UNKNOWN_NAME, Problem
from nopost.knowledge.schema import schema_problems
from nopost.knowledge.yaml_reader import Document, read_yaml

JUDGED_SCHEMA = "judged.schema.json"
ROUNDING = 1e-6
"""Probabilities may add up to this much more than 1."""


@dataclass(frozen=True, slots=True)
class JudgedSituation:
    """`case`: what is known of the machine; `shares`: cause -> probability as judged; what they leave of 1 is the others'."""

    case: Case
    shares: Mapping[str, float]


def read_judged(paths: Iterable[Path], knowledge: Knowledge) -> list[JudgedSituation]:
    """The situations of files, in order. Raises KnowledgeError with all problems of all files."""
    situations: list[JudgedSituation] = []
    problems: list[Problem] = []
    for path in paths:
        document, found = read_yaml(path)
        found = [*found] or schema_problems(document, JUDGED_SCHEMA)
        if not found:
            found = list(_problems(document, knowledge))
            situations += [_situation(row) for row in document.data["situations"]]
        problems += found
    if problems:
        raise KnowledgeError(sorted(problems))
    return situations


def _situation(row: Mapping[str, Any]) -> JudgedSituation:
    tried = tuple((fix, "same") for fix in row.get("tried", ()))
    return JudgedSituation(Case(row["id"], row["id"], row["answers"], tried, {}, {}, causes=tuple(row["judged"])), row["judged"])


def _problems(document: Document, knowledge: Knowledge) -> Iterator[Problem]:
    """Names that the knowledge base does not have, and probabilities that add up to more than 1."""
    for number, row in enumerate(document.data["situations"]):
        for (key, *rest), error in name_problems(_situation(row).case, knowledge):
            where = ("judged", tuple(row["judged"])[int(rest[0])]) if key == "cause" else (key, *rest)
            yield UNKNOWN_NAME.at(document.path, document.line(("situations", number, *where)), str(error), "correct it")
        if sum(row["judged"].values()) > 1 + ROUNDING:
            line = document.line(("situations", number, "judged"))
            yield Problem(document.path, line, "over-one", "the probabilities add up to more than 1", "lower them")
