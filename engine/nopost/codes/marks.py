"""What one code is under one table, in the few words that the analysis of a start-up needs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from nopost.codes.event import Event, Form
from nopost.codes.likelihood import BLANK as SILENT
from nopost.codes.tables import Table
from nopost.knowledge.model import Code

PHASES = ("sec", "pei", "memory", "late-pei", "dxe", "bds", "hand-over", "runtime")
"""The normal course. Recovery, resume and any lie beside it."""
EARLY = PHASES.index("pei")
MEMORY = PHASES.index("memory")
IMAGE_CAUSES = ("corrupt-firmware", "wrong-variant-image")
BOOT_CAUSES = frozenset({"no-boot-device", "storage-fault", "drive-cable-loose", "operating-system-damaged"})


@dataclass(frozen=True, slots=True)
class Mark:
    """A code under a table. `phase` is empty when the table does not have it; `rank`: index in PHASES, or -1.

    `group`: what kind of fault an error code names, an answer of the finding error-code; empty for other codes. `blank`:
    nothing was shown. `restart`: the firmware restarts the machine on purpose.
    `ended`: the firmware's work is done here and the system has its turn. `telling`: it says how far the start-up came.
    """

    phase: str = ""
    rank: int = -1
    place: float | None = None
    stage: str = ""
    kind: str = ""
    repeats: bool = False
    group: str = ""
    blank: bool = False
    restart: bool = False
    ended: bool = False
    telling: bool = False


UNKNOWN = Mark()
BLANK = Mark(phase="any", stage="no-code", kind="progress", blank=True)


def marks_of(events: Iterable[Event], table: Table | None, form: Form) -> list[Mark]:
    """The mark of each event; without a table only blank codes are known."""
    if table is None:
        return [BLANK if form is Form.HEX and event.code in SILENT else UNKNOWN for event in events]
    return [mark_of(table, event.code, event.kind) for event in events]


@lru_cache(maxsize=16384)
def mark_of(table: Table, code: str, kind: str = "") -> Mark:
    """The mark of one code. `kind` (progress or error) is what the source says of it; without it a code that is both is
    progress."""
    rows = table.find(code, kind) if kind else table.find(code)
    usual = [row for row in rows if row.kind != "error"]
    rows = rows if kind else usual or rows
    silent = bool(rows) and all(row.stage == "no-code" for row in rows)
    if silent or (table.form is Form.HEX and code in SILENT and (not rows or rows == usual)):
        return BLANK
    return _mark(rows, table.place(code) if rows and rows[0].kind != "error" else None) if rows else UNKNOWN


def _mark(rows: Sequence[Code], place: float | None) -> Mark:
    phase = _shared([row.phase for row in rows]) or "any"
    stage = _shared([row.stage for row in rows])
    kind = _shared([row.kind for row in rows]) or "progress"
    restart = phase == "any" and kind == "progress" and all(row.symbol.endswith("RESET_SYSTEM") for row in rows)
    return Mark(
        phase=phase,
        rank=PHASES.index(phase) if phase in PHASES else -1,
        place=place,
        stage=stage,
        kind=kind,
        repeats=any(row.repeats for row in rows),
        group=(_shared([group_of(row) for row in rows]) or "other") if kind == "error" else "",
        restart=restart,
        ended=kind == "end" or (kind == "progress" and stage == "handed-over"),
        telling=not restart and (phase != "any" or bool(stage) or kind == "error"),
    )


def _shared(values: Sequence[str]) -> str:
    """The value that all have, else nothing."""
    return values[0] if all(value == values[0] for value in values) else ""


def group_of(code: Code) -> str:
    """What an error code is about: an answer of the finding error-code. The image comes first, since it is missing at any
    stage."""
    if code.phase == "recovery" or (code.suspects and code.suspects[0] in IMAGE_CAUSES):
        return "firmware-image"
    if "keyboard" in code.meaning.casefold():
        return "keyboard"
    if code.stage == "boot-device" and BOOT_CAUSES.intersection(code.suspects):
        return "boot-option"
    return code.stage if code.stage in ("memory", "cpu", "graphics", "devices") else "other"
