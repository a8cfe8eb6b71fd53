"""Timelines of made-up sequences, for the tests of the drawing."""

from __future__ import annotations

from collections.abc import Sequence

from codes.boot_sequences import belief
from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading
from nopost.codes.decode import Decoded
from nopost.codes.tables import TableSet
from nopost.codes.timeline import BootRow, Timeline, timeline_of
from nopost.codes.trace import analyse


def timeline(sequence: Sequence[CodeEvent], tables: TableSet, table: str = "edk2", form: CodeForm = CodeForm.HEX) -> Timeline:
    """Of events under a table that is certain."""
    reading = CodeReading(form, "test", tuple(sequence), order_given=True)
    inference = belief({table: 1.0})
    return timeline_of(Decoded(reading, inference, analyse(reading, tables, inference), (), {}), tables)


def boot_rows(found: Timeline) -> list[BootRow]:
    """The boots that are drawn."""
    return [row for row in found.rows if isinstance(row, BootRow)]
