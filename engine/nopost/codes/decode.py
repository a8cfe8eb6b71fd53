"""From a text to what it says: read it, find the table, follow the boots, and answer findings. One call for the commands and
the dialogue.

The answers go to the same rules and the same belief as any answer that a person types.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nopost.codes.boot_outcome import BootOutcome
from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading, EventOrder
from nopost.codes.misread_digits import Reread, reread
from nopost.codes.readers.format_detection import read_text
from nopost.codes.table_inference import CodeMeaning, TableInference, code_meanings, infer_table
from nopost.codes.tables import TableSet
from nopost.codes.trace import Trace, analyse
from nopost.knowledge.model import Finding
from nopost.knowledge.roles import FindingRole, Roles

LEAST_CONFIDENCE = 0.55
"""A trace less sure than this says nothing. Between this and 1 the findings' own tables allow for error."""


def answers_from_trace(trace: Trace, roles: Roles) -> dict[str, str]:
    """Finding -> answer, for the findings that have a role here; what is not known is left out."""
    seen: dict[FindingRole, str] = {}
    if trace.confidence >= LEAST_CONFIDENCE and trace.outcome is not BootOutcome.UNCLEAR:
        seen[FindingRole.CODES_STAGE] = trace.stage
        seen[FindingRole.CODES_OUTCOME] = trace.outcome
    seen[FindingRole.CODES_ERROR] = trace.error
    return roles.answers(seen)


@dataclass(frozen=True, slots=True)
class Decoded:
    """One kind of sign in a text: what was read, under which table, what happened, and the answers it gives to findings.

    `rereads`: digits that were probably noted wrong; the inference and the trace are those of the text as it stands.
    """

    reading: CodeReading
    inference: TableInference
    trace: Trace
    rereads: tuple[Reread, ...]
    answers: dict[str, str]

    @property
    def events(self) -> tuple[CodeEvent, ...]:
        """The events oldest first."""
        return self.reading.events if self.trace.order is EventOrder.OLDEST_FIRST else self.reading.events[::-1]


def decode(
    text: str | bytes, tables: TableSet, *, table: str | None = None, order: EventOrder | None = None, rereads: bool = True
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


def _decoded(reading: CodeReading, tables: TableSet, table: str | None, rereads: bool) -> Decoded:
    given = table if table is not None and tables.named(table).form is reading.form else None
    inference = infer_table(reading.events, tables, given=given, form=reading.form, order_given=reading.order_given)
    trace = analyse(reading, tables, inference)
    changes = reread(reading.events, tables, inference) if rereads and reading.form is CodeForm.HEX else []
    return Decoded(reading, inference, trace, tuple(changes), answers_from_trace(trace, tables.roles))


def joined_answers(decoded: Sequence[Decoded]) -> dict[str, str]:
    """The answers of all forms; where two forms answer the same finding, the surer trace speaks."""
    answers: dict[str, str] = {}
    for result in sorted(decoded, key=lambda d: d.trace.confidence):
        answers |= result.answers
    return answers


def known_answers(decoded: Sequence[Decoded], findings: Mapping[str, Finding]) -> dict[str, str]:
    """The joined answers that these findings can take: a knowledge base need not have them all."""
    return {f: a for f, a in joined_answers(decoded).items() if f in findings and a in findings[f].answer_ids}


def event_meanings(event: CodeEvent, tables: TableSet, inference: TableInference) -> list[CodeMeaning]:
    """What an event means under each table that may be the right one, the likeliest first."""
    return code_meanings(event.status or event.code, tables, inference, event.kind) or code_meanings(
        event.code, tables, inference
    )
