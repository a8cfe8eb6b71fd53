"""What a section of the benchmark hands over: tables of plain values, and the options it was run with."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

Cell = str | int | float | None


@dataclass(frozen=True)
class Options:
    """How much to measure. `causes_findings`: sizes of generated knowledge bases."""

    quick: bool = False
    seed: int = 1
    causes_findings: tuple[tuple[int, int], ...] = ((50, 80), (200, 200), (1000, 1000))

    @property
    def repeats(self) -> int:
        """How often each thing is timed."""
        return 3 if self.quick else 9

    def few(self, many: int, few: int) -> int:
        """A number of games, logs or problems."""
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
