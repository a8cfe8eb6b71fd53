"""Reference records as frozen values: boards with their firmware releases, CPUs, code tables, and the facts that these records
can establish. `model` names the records too. Rules test the facts; `nopost.firmware.facts` computes them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

FACTS = MappingProxyType(
    {
        "firmware-knows-cpu": ("yes", "no"),
        "firmware-dropped-cpu": ("yes",),
        "cpu-fits-socket": ("yes", "no"),
        "image-variant": ("exact", "other"),
        "slots-by-manual": ("first-choice", "other"),
        "memory-type-fits": ("yes", "no"),
        "memory-generation": ("ddr3", "ddr4", "ddr5"),
        "cpu-graphics": ("yes", "no"),
        "board-video": ("yes", "no"),
        "has-stage-lamps": ("yes", "no"),
        "has-code-display": ("yes", "no"),
        "has-speaker": ("yes", "no"),
        "has-standby-lamp": ("yes", "no"),
        "has-write-button": ("yes", "no"),
        "button-needs-cpu-plug": ("yes", "no"),
        "button-reads": ("fat-only", "newer-too"),
        "has-second-chip": ("yes", "no"),
    }
)
"""Fact -> the values it can have. A fact that the records do not settle is simply not there."""


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
    """One code and what it means. `about`: what an error is about, where its stage does not say so."""

    code: str
    phase: str
    kind: str
    meaning: str
    stage: str = ""
    repeats: bool = False
    symbol: str = ""
    status: str = ""
    about: str = ""
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
