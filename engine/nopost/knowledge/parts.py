"""Records of parts, and code tables, as frozen values; `model` names them too."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Release:
    """One firmware release; its place in the board's list is its order."""

    version: str
    date: str
    adds: tuple[str, ...] = ()
    drops: tuple[str, ...] = ()
    requires: str = ""
    accepts_from: str = ""
    size: int = 0
    sha256: str = ""
    file: str = ""
    one_way: bool = False
    notes: str = ""


@dataclass(frozen=True, slots=True)
class Board:
    """The user's own record of one board variant."""

    id: str
    title: str
    variant: str
    socket: str
    memory_type: str
    slots: tuple[str, ...]
    slot_order: Mapping[int, tuple[str, ...]]
    video_outputs: bool
    indicators: Mapping[str, bool]
    first_families: tuple[str, ...]
    releases: tuple[Release, ...]
    recovery: Mapping[str, Any]
    revision: str = ""
    identifiers: tuple[str, ...] = ()
    look_alikes: tuple[str, ...] = ()
    cpu_power: tuple[str, ...] = ()
    code_table: str = ""


@dataclass(frozen=True, slots=True)
class Cpu:
    """The user's own record of one CPU."""

    id: str
    title: str
    family: str
    socket: str
    cores: int
    threads: int
    graphics: bool
    memory: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Code:
    """One code and what it means."""

    code: str
    phase: str
    kind: str
    meaning: str
    stage: str = ""
    repeats: bool = False
    symbol: str = ""
    status: str = ""
    suspects: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class CodeTable:
    """The codes of one firmware family in their normal order."""

    id: str
    title: str
    family: str
    form: str
    weight: float
    codes: tuple[Code, ...]
    low_byte: bool = False
    generic: bool = False
    source: str = ""
