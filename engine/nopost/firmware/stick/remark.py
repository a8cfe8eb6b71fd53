"""One thing to say about a stick, and what a button wants."""

from __future__ import annotations

import enum
from dataclasses import dataclass


class Level(enum.StrEnum):
    """How grave a remark is."""

    FIX = "fix"
    CHECK = "check"
    NOTE = "note"
    GOOD = "good"


@dataclass(frozen=True, slots=True)
class Remark:
    """One line. `code` names it for programs."""

    level: Level
    code: str
    text: str


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the button of a board wants, as far as it is known. `button`: None when no record says; `sizes`: of the releases;
    `released`: names that the images have in their archives."""

    file: str = ""
    file_systems: tuple[str, ...] = ()
    socket: str = ""
    sizes: tuple[int, ...] = ()
    chip_size: int = 0
    button: bool | None = None
    released: tuple[str, ...] = ()


def byte_count(size: int) -> str:
    """A size as people say it, with the exact number."""
    for unit, name in ((1 << 30, "GiB"), (1 << 20, "MiB"), (1 << 10, "KiB")):
        if size >= unit:
            return f"{size / unit:.4g} {name}" + ("" if size % unit == 0 else f" ({size} bytes)")
    return f"{size} bytes"
