"""Board and CPU records: found by file or by id, gathered as what a person knows of the parts, and written in plain
words or as JSON.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from nopost.errors import KnowledgeError, UnknownNameError
from nopost.knowledge.build import KINDS, ItemKind
from nopost.knowledge.model import Knowledge
from nopost.knowledge.problem import Problem
from nopost.knowledge.record_faults import board_problems
from nopost.knowledge.reference_records import Board, Cpu
from nopost.knowledge.yaml_reader import Document, read_yaml

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


def _find(name: str, kind: ItemKind, known: Mapping[str, Item]) -> Item:
    if name in known:
        return known[name]
    path = Path(name)
    if path.suffix in (".yaml", ".yml") or os.path.isfile(name):
        item: Item = _read(path, kind)
        return item
    what, way = ("CPU", "") if kind.name == "cpu" else (kind.name, "to write a record of your own: nopost board new")
    raise UnknownNameError(what, name, known, way)


def _read(path: Path, kind: ItemKind) -> Any:
    document = _checked(path, board_problems if kind.name == "board" else lambda document: _schema_problems(document, kind))
    return kind.build(document.data)


def _checked(path: Path, check: Callable[[Document], list[Problem]]) -> Document:
    """A record's file in which the check finds nothing."""
    document, problems = read_yaml(path)
    problems = problems or check(document)
    if problems:
        raise KnowledgeError(problems)
    return document


def _schema_problems(document: Document, kind: ItemKind) -> list[Problem]:
    from nopost.knowledge.schema import schema_problems  # only here: jsonschema costs start-up time

    return schema_problems(document, kind.schema)


def board_source(name: str, knowledge: Knowledge, boards: Path) -> dict[str, Any]:
    """The data of a board record as its file has them, by file or by the id of one in the folder `boards` of the knowledge base.

    Slots and releases are not compared with each other yet, so that a record with a fault can be mended. Raises
    UnknownNameError or KnowledgeError.
    """
    path = boards / f"{name}.yaml" if name in knowledge.boards else Path(name)
    if path.suffix not in (".yaml", ".yml") and not path.is_file():
        raise UnknownNameError("board", name, knowledge.boards)
    kind = KINDS["boards"]
    data: dict[str, Any] = _checked(path, lambda document: _schema_problems(document, kind)).data
    return data


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


_LAMPS = {
    "stage_lamps": "stage lamps",
    "code_display": "two-digit display",
    "speaker": "speaker",
    "standby_lamp": "standby lamp",
}


def board_words(board: Board) -> list[tuple[str, str]]:
    """Name and text of each line; what the record does not say is left out."""
    return [(name, text) for name, text in _lines(board) if text]


def _lines(board: Board) -> Iterator[tuple[str, str]]:
    yield "Variant", board.variant
    yield "Revision", board.revision
    yield "Also called", ", ".join(board.identifiers)
    yield "Not to be mistaken for", ", ".join(board.look_alikes)
    yield "CPU socket", board.socket
    yield "CPU power", " and ".join(f"{pins} pins" for pins in board.cpu_power)
    yield "Memory", f"{board.memory_type}, slots {', '.join(board.slots)} from the CPU outwards"
    yield "Slots by the manual", "; ".join(f"{count}: {', '.join(slots)}" for count, slots in sorted(board.slot_order.items()))
    yield "Display sockets", "yes" if board.video_outputs else "none: a graphics card shows the picture"
    yield "Shows its state by", ", ".join(words for name, words in _LAMPS.items() if board.indicators.get(name)) or "nothing"
    yield "Code table", board.code_table
    yield "Known from the first", ", ".join(board.first_families)
    yield "Writes without starting", _recovery(board)
    yield "Firmware chip", _chip(board)


def _recovery(board: Board) -> str:
    recovery = board.recovery
    found = []
    if recovery["button"]:
        details = [f"reads {recovery['button_file']}" if recovery.get("button_file") else ""]
        details += [f"at {recovery['button_socket']}" if recovery.get("button_socket") else ""]
        details += [f"{recovery['button_minutes']:g} minutes" if recovery.get("button_minutes") else ""]
        details += [" or ".join(recovery.get("button_file_systems", ()))]
        told = ", ".join(filter(None, details))
        found.append(f"firmware button ({told})" if told else "firmware button")
    if recovery.get("recovery_block"):
        found.append("recovery block reads a stick")
    return "; ".join(found) or "no"


def _chip(board: Board) -> str:
    recovery = board.recovery
    size = int(recovery.get("chip_size", 0))
    shown = f"{size >> 20} MiB" if size and size % (1 << 20) == 0 else f"{size} bytes" if size else ""
    more = ["a second one" if recovery["second_chip"] else "", "in a socket" if recovery.get("socketed_chip") else ""]
    return ", ".join(filter(None, [shown, *more]))


def board_data(board: Board) -> dict[str, Any]:
    """The record as JSON, without its releases."""
    return {
        "id": board.id,
        "title": board.title,
        "variant": board.variant,
        "revision": board.revision,
        "identifiers": list(board.identifiers),
        "look_alikes": list(board.look_alikes),
        "socket": board.socket,
        "memory": {
            "type": board.memory_type,
            "slots": list(board.slots),
            "order": {str(count): list(slots) for count, slots in board.slot_order.items()},
        },
        "cpu_power": list(board.cpu_power),
        "video_outputs": board.video_outputs,
        "indicators": dict(board.indicators),
        "code_table": board.code_table,
        "first_families": list(board.first_families),
        "recovery": {name: list(value) if isinstance(value, tuple) else value for name, value in board.recovery.items()},
    }
