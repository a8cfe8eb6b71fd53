"""One log in, one row out: what its codes say and which causes that points to."""

from __future__ import annotations

from typing import Any, NamedTuple

from nopost.batch.log_sources import Log
from nopost.codes.boot_outcome import BootOutcome
from nopost.codes.code_events import EventOrder
from nopost.codes.decode import Decoded, decode, known_answers
from nopost.codes.tables import TableSet
from nopost.codes.trace import Trace
from nopost.diagnosis.belief.evidence import Observations, Report
from nopost.diagnosis.diagnose import Ranker
from nopost.knowledge.model import Knowledge

PLACES = 4
"""Decimals of a probability."""
MAX_PROBLEM_TEXT = 200
"""Characters of a problem's text."""
NO_SIGNS = "no codes, lamps, beeps or states were found"
WENT_THROUGH = (BootOutcome.HANDED_OVER, BootOutcome.RESUMED)
"""Starts that went through: no fault shows."""

RankedCauses = tuple[tuple[str, float], ...]


class LogRow(NamedTuple):
    """What one log says; None where nothing is known. The fields are the columns of the result.

    Of several kinds of sign in a log it is the one that tells most. `order`: how the text was written. `table`: the most probable
    one, or unknown-map. `period`: codes in one round of a loop. `error_code`: the last one noted, `error_about` what it is about.
    `cause_1` to `cause_3`: on the supposition that the machine is at fault, so of no weight where `outcome` says that the start
    went through. `problem`: why there is no result.
    """

    name: str
    form: str | None = None
    source: str | None = None
    order: str | None = None
    table: str | None = None
    table_probability: float | None = None
    outcome: str | None = None
    confidence: float | None = None
    stage: str | None = None
    last_code: str | None = None
    boots: int | None = None
    period: int | None = None
    error_code: str | None = None
    error_about: str | None = None
    cause_1: str | None = None
    cause_1_probability: float | None = None
    cause_2: str | None = None
    cause_2_probability: float | None = None
    cause_3: str | None = None
    cause_3_probability: float | None = None
    problem: str | None = None

    @property
    def is_faulty(self) -> bool:
        """Whether it was read and does not show a start that went through."""
        return self.outcome is not None and self.outcome not in WENT_THROUGH


class LogDecoder:
    """Tables, rules and belief of a knowledge base, compiled once. Remembers the causes of answers it met: they are few."""

    def __init__(self, knowledge: Knowledge) -> None:
        self._findings = knowledge.findings
        self._tables = TableSet(knowledge.codes, knowledge.base.roles)
        self._ranker = Ranker(knowledge)
        self._causes_of: dict[tuple[tuple[str, str], ...], RankedCauses] = {}

    def row(self, log: Log) -> LogRow:
        """The row of a log. Never raises: what goes wrong is the row's problem."""
        name = escape_lone_surrogates(log.name)
        if log.problem:
            return LogRow(name, problem=_one_line(log.problem))
        try:
            found = decode(log.content, self._tables, rereads=False)
            return self._row_of(name, found) if found else LogRow(name, problem=NO_SIGNS)
        except Exception as error:  # whatever it is, the other logs are still to be read
            return LogRow(name, problem=_one_line(f"unexpected {type(error).__name__}: {error}"))

    def _row_of(self, name: str, found: list[Decoded]) -> LogRow:
        first = found[0]
        reading, inference, trace = first.reading, first.inference, first.trace
        causes: dict[str, Any] = {}
        for number, (cause, probability) in enumerate(self._causes(found), start=1):
            causes |= {f"cause_{number}": cause, f"cause_{number}_probability": round(probability, PLACES)}
        return LogRow(
            name=name,
            form=reading.form.value,
            source=escape_lone_surrogates(reading.source),
            order=_written_order(first).value,
            table=inference.best,
            table_probability=round(inference.probability, PLACES),
            outcome=trace.outcome.value,
            confidence=round(trace.confidence, PLACES),
            stage=trace.stage or None,
            last_code=trace.last or None,
            boots=len(trace.boots) or None,
            period=trace.period.length if trace.period else None,
            error_code=next(reversed(_last_error_codes(trace)), None),
            error_about=trace.error or None,
            **causes,
        )

    def _causes(self, found: list[Decoded]) -> RankedCauses:
        """The three most probable causes; none when the codes say nothing that this knowledge base asks for."""
        known = tuple(sorted(known_answers(found, self._findings).items()))
        if known not in self._causes_of:
            ranked = self._ranker.rank(Observations(tuple(Report(finding, answer) for finding, answer in known)))
            self._causes_of[known] = ranked.ranking[:3] if ranked.evidence.reports else ()
        return self._causes_of[known]


def _written_order(decoded: Decoded) -> EventOrder:
    """How the text was written: as the reader took it, or the other way round when the codes say so."""
    order = decoded.reading.order
    if decoded.trace.order is EventOrder.OLDEST_FIRST:
        return order
    return EventOrder.OLDEST_FIRST if order is EventOrder.NEWEST_FIRST else EventOrder.NEWEST_FIRST


def _last_error_codes(trace: Trace) -> tuple[str, ...]:
    """Error codes of the last boot; in a loop of the last two, since the last may be cut."""
    last = trace.boots[-2:] if trace.outcome is BootOutcome.RESTART_LOOP else trace.boots[-1:]
    return tuple(code for boot in last for code in boot.errors)


def escape_lone_surrogates(text: str) -> str:
    """Text that every file can hold: halves of characters are written as escapes."""
    return text if text.isascii() else text.encode("utf-8", "backslashreplace").decode()


def _one_line(text: str) -> str:
    line = " ".join(escape_lone_surrogates(text).split())
    return line if len(line) <= MAX_PROBLEM_TEXT else f"{line[: MAX_PROBLEM_TEXT - 1]}…"
