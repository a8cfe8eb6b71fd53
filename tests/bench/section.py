"""What a section of the benchmark hands over: tables of plain values, and the options it was run with."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from nopost.diagnosis.advice.lookahead import MANY_HYPOTHESES

Cell = str | int | float | None
ANSWERS_EACH = 3.5
"""Answers of a finding, about."""
VECTORS = 100
"""Numbers of all hypotheses that are held at once, about."""
SHARE = 0.5
"""Of the machine's memory, what arrays may take; more is not tried."""


@dataclass(frozen=True)
class Options:
    """How much to measure. `causes_findings`: sizes of generated knowledge bases."""

    quick: bool = False
    seed: int = 1
    causes_findings: tuple[tuple[int, int], ...] = ((50, 80), (200, 200), (1000, 1000))

    def sizes(self, notes: list[str]) -> Iterator[tuple[int, int]]:
        """The sizes whose arrays fit into this machine; of the others the notes say what they would take."""
        memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
        for causes, findings in self.causes_findings:
            hypotheses = causes * (causes + 1) / 2 + 1
            tables = 3 * findings * ANSWERS_EACH if hypotheses <= MANY_HYPOTHESES else 0  # larger ones need none
            needed = 8 * hypotheses * (VECTORS + tables)
            if needed > SHARE * memory:
                notes.append(f"{causes:,} × {findings:,}: not tried; it would take about {needed / 2**30:.0f} GiB.")
            else:
                yield causes, findings

    @property
    def repeats(self) -> int:
        """How often each thing is timed."""
        return 3 if self.quick else 9

    def few(self, many: int, few: int) -> int:
        """A number of episodes, logs or problems."""
        return few if self.quick else many


@dataclass
class Section:
    """One table. `notes` say what it cannot show."""

    title: str
    columns: tuple[str, ...]
    rows: list[tuple[Cell, ...]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def add(self, *cells: Cell) -> None:
        """One more row."""
        assert len(cells) == len(self.columns), (self.title, cells)
        self.rows.append(cells)

    def turned(self) -> Section:
        """Rows for columns."""
        columns = (self.columns[0], *(shown(row[0]) for row in self.rows))
        rows = [(name, *(row[k] for row in self.rows)) for k, name in enumerate(self.columns) if k]
        return Section(self.title, columns, rows, self.notes)

    def data(self) -> dict[str, Any]:
        """For JSON."""
        return {"title": self.title, "rows": [dict(zip(self.columns, r, strict=True)) for r in self.rows], "notes": self.notes}


def shown(cell: Cell) -> str:
    """A cell for the terminal: three digits of a number that is not whole."""
    if cell is None:
        return "-"
    if isinstance(cell, float):
        return f"{cell:,.0f}" if abs(cell) >= 1000 else f"{cell:.3g}"
    return f"{cell:,}" if isinstance(cell, int) else cell
