"""One result of a check of an image, a stick or a machine: how grave it is, what was seen, and what to do."""

from __future__ import annotations

import enum
from dataclasses import dataclass


class Level(enum.StrEnum):
    """How grave a result is; `check`: it could not be settled from what there is."""

    FIX = "fix"
    CHECK = "check"
    NOTE = "note"
    GOOD = "good"


@dataclass(frozen=True, slots=True)
class CheckResult:
    """One line. `code` names it for programs; `do`: what to do, where the line itself does not say it."""

    level: Level
    code: str
    text: str
    do: str = ""


def check_result_data(result: CheckResult) -> dict[str, str]:
    """A result as plain data, without an empty `do`."""
    told = {"level": result.level.value, "code": result.code, "text": result.text}
    return told | ({"do": result.do} if result.do else {})


def byte_count(size: int) -> str:
    """A size as people say it, with the exact number."""
    for unit, name in ((1 << 30, "GiB"), (1 << 20, "MiB"), (1 << 10, "KiB")):
        if size >= unit:
            return f"{size / unit:.4g} {name}" + ("" if size % unit == 0 else f" ({size} bytes)")
    return f"{size} bytes"
