"""Timelines of made-up sequences, for the tests of the drawing."""

from __future__ import annotations

from collections.abc import Sequence

from codes.courses import belief
from nopost.codes.decode import Decoded
from nopost.codes.event import Event, Form, Reading
from nopost.codes.tables import TableSet
from nopost.codes.timeline import Row, Timeline, timeline_of
from nopost.codes.trace import analyse


def timeline(sequence: Sequence[Event], tables: TableSet, table: str = "edk2", form: Form = Form.HEX) -> Timeline:
    """Of events under a table that is certain."""
    reading = Reading(form, "test", tuple(sequence), order_given=True)
    inference = belief({table: 1.0})
    return timeline_of(Decoded(reading, inference, analyse(reading, tables, inference), (), {}), tables)


def boot_rows(found: Timeline) -> list[Row]:
    """The boots that are drawn."""
    return [row for row in found.rows if isinstance(row, Row)]
