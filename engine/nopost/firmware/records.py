"""What the person knows of the parts: board, CPU, firmware release, modules. Read from files or taken from the shipped ones."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from nopost.errors import KnowledgeError, UnknownNameError
from nopost.knowledge.check_boards import board_faults
from nopost.knowledge.kinds import KINDS, Kind
from nopost.knowledge.model import Board, Cpu, Knowledge
from nopost.knowledge.problem import Problem
from nopost.knowledge.yaml_file import read_yaml

Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class Records:
    """`firmware`: version of the release on the board; `image_for`: variant that a written image was made for."""

    board: Board | None = None
    cpu: Cpu | None = None
    firmware: str = ""
    image_for: str = ""
    slots: tuple[str, ...] = ()
    memory_type: str = ""


def find_board(name: str, knowledge: Knowledge) -> Board:
    """A board by file, or by the id of one in the knowledge base. Raises KnowledgeError or UnknownNameError."""
    return _find(name, KINDS["boards"], knowledge.boards)


def find_cpu(name: str, knowledge: Knowledge) -> Cpu:
    """A CPU by file or id. Raises KnowledgeError or UnknownNameError."""
    return _find(name, KINDS["cpus"], knowledge.cpus)


def _find(name: str, kind: Kind, known: Mapping[str, Item]) -> Item:
    if name in known:
        return known[name]
    path = Path(name)
    if path.suffix in (".yaml", ".yml") or os.path.isfile(name):
        item: Item = _read(path, kind)
        return item
    what, way = ("CPU", "") if kind.name == "cpu" else (kind.name, "to write a record of your own: nopost board new")
    raise UnknownNameError(what, name, known, way)


def _read(path: Path, kind: Kind) -> Any:
    from nopost.knowledge.schema import schema_problems

    document, problems = read_yaml(path)
    problems = problems or schema_problems(document, kind.schema)
    if not problems and kind.name == "board":
        faults = board_faults(kind.build(document.data))
        problems = [Problem(document.path, document.line(f.where), f.code, f.message, f.hint) for f in faults]
    if problems:
        raise KnowledgeError(problems)
    return kind.build(document.data)


def records_of(data: Mapping[str, Any], knowledge: Knowledge) -> Records:
    """Records from the `records` of a case: board and CPU by id."""
    return Records(
        board=find_board(data["board"], knowledge) if data.get("board") else None,
        cpu=find_cpu(data["cpu"], knowledge) if data.get("cpu") else None,
        firmware=data.get("firmware", ""),
        image_for=data.get("image_for", ""),
        slots=tuple(data.get("slots", ())),
        memory_type=data.get("memory_type", ""),
    )
