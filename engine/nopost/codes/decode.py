"""From a text to what it says: read, find the table, follow the boots. One call for the commands and for the dialogue."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nopost.codes.event import Event, Form, Order, Reading
from nopost.codes.infer import Inference, Meaning, infer_table, meanings
from nopost.codes.observe import observed
from nopost.codes.read import read_text
from nopost.codes.segments import Reread, reread
from nopost.codes.tables import TableSet
from nopost.codes.trace import Trace, analyse
from nopost.knowledge.model import Finding


@dataclass(frozen=True, slots=True)
class Decoded:
    """One kind of sign in a text: what was read, under which table, what happened, and the answers it gives to findings.

    `rereads`: digits that were probably noted wrong; the inference and the trace are those of the text as it stands.
    """

    reading: Reading
    inference: Inference
    trace: Trace
    rereads: tuple[Reread, ...]
    answers: dict[str, str]

    @property
    def events(self) -> tuple[Event, ...]:
        """The events oldest first."""
        return self.reading.events if self.trace.order is Order.OLDEST_FIRST else self.reading.events[::-1]


def decode(
    text: str | bytes, tables: TableSet, *, table: str | None = None, order: Order | None = None, rereads: bool = True
) -> list[Decoded]:
    """What a text says: one result for each form found in it, the one that tells most first; empty when nothing was read.

    `table`: the table's id when it is known. `rereads`: look for digits noted wrong, which takes half of the time. Raises
    UnknownNameError when there is none of this name; nothing else.
    """
    if table is not None:
        tables.named(table)
    readings = [reading for reading in read_text(text, order=order) if reading.events]
    found = [_decoded(reading, tables, table, rereads) for reading in readings]
    return sorted(found, key=lambda d: (-bool(d.answers), -len(d.reading.events)))


def _decoded(reading: Reading, tables: TableSet, table: str | None, rereads: bool) -> Decoded:
    given = table if table is not None and tables.named(table).form is reading.form else None
    inference = infer_table(reading.events, tables, given=given, form=reading.form, order_given=reading.order_given)
    trace = analyse(reading, tables, inference)
    changes = reread(reading.events, tables, inference) if rereads and reading.form is Form.HEX else []
    return Decoded(reading, inference, trace, tuple(changes), observed(trace))


def joined_answers(decoded: Sequence[Decoded]) -> dict[str, str]:
    """The answers of all forms; where two forms answer the same finding, the surer trace speaks."""
    answers: dict[str, str] = {}
    for result in sorted(decoded, key=lambda d: d.trace.confidence):
        answers |= result.answers
    return answers


def known_answers(decoded: Sequence[Decoded], findings: Mapping[str, Finding]) -> dict[str, str]:
    """The joined answers that these findings can take: a knowledge base need not have them all."""
    return {f: a for f, a in joined_answers(decoded).items() if f in findings and a in findings[f].answer_ids}


def event_meanings(event: Event, tables: TableSet, inference: Inference) -> list[Meaning]:
    """What an event means under each table that may be the right one, the likeliest first."""
    return meanings(event.status or event.code, tables, inference, event.kind) or meanings(event.code, tables, inference)
