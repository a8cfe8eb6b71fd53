"""What a machine should have become."""

from __future__ import annotations

from dataclasses import dataclass

from nopost.knowledge.model import Board, Cpu


@dataclass(frozen=True, slots=True)
class Expected:
    """`firmware`: version that was to be written; `slots`: where modules were put; `rated`: the rate on their label in MT/s;
    `size`: of each module in bytes."""

    board: Board | None = None
    cpu: Cpu | None = None
    firmware: str = ""
    slots: tuple[str, ...] = ()
    rated: int | None = None
    size: int | None = None
