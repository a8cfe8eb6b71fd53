"""One result of a check of an image, a stick or a machine: how grave it is, what was seen, and what to do."""

from __future__ import annotations

import enum
from dataclasses import dataclass


class Level(enum.StrEnum):
    """How grave a result is: to fix, to check by hand since it could not be settled from what there is, to know, or good."""

    FIX = "fix"
    CHECK = "check"
    NOTE = "note"
    GOOD = "good"


@dataclass(frozen=True, slots=True)
class CheckResult:
    """One result of a check. `code` names it for programs; `text` says in one line what was seen; `do`: what to do, where the
    text does not say it."""

    level: Level
    code: str
    text: str
    do: str = ""


def check_result_data(result: CheckResult) -> dict[str, str]:
    """A result as JSON, without an empty `do`."""
    found = {"level": result.level.value, "code": result.code, "text": result.text}
    return found | ({"do": result.do} if result.do else {})


def byte_count(size: int) -> str:
    """A size as people say it, with the exact number."""
    for unit, name in ((1 << 30, "GiB"), (1 << 20, "MiB"), (1 << 10, "KiB")):
        if size >= unit:
            return f"{size / unit:.4g} {name}" + ("" if size % unit == 0 else f" ({size} bytes)")
    return f"{size} bytes"
