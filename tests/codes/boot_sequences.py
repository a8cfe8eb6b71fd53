"""Short ways to write sequences, and readings of them under tables with given probabilities."""

from __future__ import annotations

from collections.abc import Sequence

from nopost.codes.boots import BootSequence, marks_of, split_boots
from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading, EventOrder
from nopost.codes.table_inference import TableInference
from nopost.codes.tables import TableSet
from nopost.codes.trace import Trace, analyse

FULL = (
    "10 11 1D 1E 1F 20 21 31 32 33 34 35 36 37 3B 4F 60 62 68 69 6A 70 71 72 90 92 94 95 96 97 98 9A 9B 9C 9D A1 A2 A3 A4 AD AF"
)
"""A start that goes well, as a two-digit display shows the edk2 codes. Order: the edk2 phases; the choice of codes is
invented."""


def events(text: str, at: Sequence[float] | None = None, boot: Sequence[int] | None = None) -> tuple[CodeEvent, ...]:
    """Codes between spaces; `21*5` came five times in a row. `at`: seconds; `boot`: number of the boot."""
    found = []
    for i, word in enumerate(text.split()):
        code, _, count = word.partition("*")
        found.append(CodeEvent(code, at=at[i] if at else None, boot=boot[i] if boot else None, count=int(count or 1)))
    return tuple(found)


def boot_sequence(
    shown: Sequence[CodeEvent], tables: TableSet, table: str = "edk2", form: CodeForm = CodeForm.HEX
) -> BootSequence:
    """The events under one table; under no map at all for an empty name."""
    found = tables.named(table) if table else None
    return split_boots(shown, marks_of(shown, found, form), own=found is not None and not found.generic)


def belief(posterior: dict[str, float], order_log_odds: float = 50.0) -> TableInference:
    """An inference that says this."""
    ranked = tuple(sorted(posterior.items(), key=lambda pair: -pair[1]))
    order = EventOrder.OLDEST_FIRST if order_log_odds >= 0 else EventOrder.NEWEST_FIRST
    return TableInference(
        posterior=ranked, best=ranked[0][0], order=order, order_log_odds=order_log_odds, fit_per_code=1.0, note=""
    )


def traced(
    sequence: Sequence[CodeEvent],
    tables: TableSet,
    posterior: dict[str, float] | None = None,
    *,
    form: CodeForm = CodeForm.HEX,
    order_log_odds: float | None = None,
) -> Trace:
    """What the analysis says; the order is certain unless its odds are given."""
    reading = CodeReading(form, "test", tuple(sequence), order_given=order_log_odds is None)
    return analyse(reading, tables, belief(posterior or {"edk2": 1.0}, 50.0 if order_log_odds is None else order_log_odds))
