"""A check of what a machine has become: what was expected, and how it came out."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from nopost.knowledge.model import Board, Cpu


class Verdict(StrEnum):
    """How a check came out."""

    OK = "ok"
    WRONG = "wrong"
    OPEN = "cannot-tell"


@dataclass(frozen=True, slots=True)
class Check:
    """One check: what was found, and what to do unless it is well."""

    id: str
    verdict: Verdict
    line: str
    do: str = ""


@dataclass(frozen=True, slots=True)
class Expected:
    """What the machine should be. `firmware`: version that was to be written; `slots`: where modules were put; `rated`: the
    rate on the modules' label in MT/s."""

    board: Board | None = None
    cpu: Cpu | None = None
    firmware: str = ""
    slots: tuple[str, ...] = ()
    rated: int | None = None
