"""Many logs decoded: each row is what the log alone would give, in order, whatever is wrong with some of them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from batch import deadly
from nopost.batch import parallel_decoding
from nopost.batch.log_row import NO_SIGNS, LogDecoder, LogRow
from nopost.batch.log_sources import Log
from nopost.batch.parallel_decoding import decode_logs
from nopost.codes.decode import decode, joined_answers
from nopost.codes.tables import TableSet
from nopost.diagnosis.belief.evidence import Observations, Report
from nopost.diagnosis.diagnose import Diagnostician
from nopost.errors import NopostError
from nopost.knowledge.model import Knowledge

WELL = (
    "10 11 1D 1E 1F 20 21 31 32 33 34 35 36 37 3B 4F 60 62 68 69 6A 70 71 72 90 92 94 95 96 97 98 9A 9B 9C 9D A1 A2 A3 A4 AD AF"
)
MEMORY = "10 11 1D 1E 1F 20 21 50"
LOOP = "10 11 1D 1E 1F 20 " * 6
LOGS: list[tuple[str, str | bytes]] = [
    ("well", WELL),
    ("memory", f"{MEMORY}\nmemory lamp on"),
    ("loop", LOOP),
    ("bytes", MEMORY.encode()),
    ("beeps", "1 long 2 short beeps"),
    ("nothing", "all is quiet here"),
    ("empty", b""),
    ("broken", b"\xff\xfe\x00"),
]
"""A course of edk2 codes in the order of its phases; the choice of codes is invented."""


@pytest.fixture(scope="module")
def decoder(knowledge: Knowledge) -> LogDecoder:
    """The shipped knowledge, compiled."""
    return LogDecoder(knowledge)


def test_rows_say_what_each_log_says(knowledge: Knowledge) -> None:
    """Names in order; outcome, stage and problem as the log has them."""
    rows = list(decode_logs(LOGS, knowledge, 1))
    assert [row.name for row in rows] == [name for name, _ in LOGS]
    by_name = {row.name: row for row in rows}
    assert by_name["well"].outcome == "handed-over"
    assert not by_name["well"].is_faulty
    assert (by_name["bytes"].outcome, by_name["bytes"].stage, by_name["bytes"].error_code) == ("stalled", "memory", "50")
    assert by_name["bytes"].error_about == "memory"
    assert by_name["bytes"].is_faulty
    assert (by_name["loop"].outcome, by_name["loop"].period) == ("restart-loop", 6)
    assert by_name["beeps"].form == "beeps"
    assert by_name["nothing"] == LogRow("nothing", problem=NO_SIGNS)
    assert by_name["empty"].problem == by_name["broken"].problem == NO_SIGNS


@pytest.mark.slow
def test_causes_are_those_of_an_assessment(knowledge: Knowledge, diagnostician: Diagnostician, decoder: LogDecoder) -> None:
    """The belief without the advice is the belief of the whole assessment."""
    tables = TableSet(knowledge.codes, knowledge.base.roles)
    for name, text in LOGS[:5]:
        answers = joined_answers(decode(text, tables))
        seen = Observations(tuple(Report(finding, answer) for finding, answer in answers.items()))
        wanted = diagnostician.assess(seen).ranking[:3]
        for row in (decoder.row(Log(name, text)), decoder.row(Log(name, text))):  # the second from memory
            assert (row.cause_1, row.cause_2, row.cause_3) == tuple(cause for cause, _ in wanted)
            assert row.cause_1_probability == pytest.approx(wanted[0][1], abs=1e-4)


def test_no_causes_without_evidence(decoder: LogDecoder) -> None:
    """Codes that say nothing leave the causes open, and do not repeat what is common anyway."""
    row = decoder.row(Log("short", "1234"))
    assert row.problem is None
    assert row.cause_1 is None


def test_order_and_table_are_told(decoder: LogDecoder) -> None:
    """Newest first is seen by the codes, and said."""
    forward = decoder.row(Log("a", WELL.replace(" ", "\n")))
    backward = decoder.row(Log("b", "\n".join(reversed(WELL.split()))))
    assert (forward.order, backward.order) == ("oldest-first", "newest-first")
    assert forward.table == backward.table == "edk2"
    assert forward.last_code == backward.last_code
    assert forward.table_probability is not None
    assert math.isclose(forward.table_probability, 1.0, abs_tol=0.2)


def test_an_unexpected_error_is_a_row(knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever goes wrong with one log, the next one is read."""

    def fail(text: str | bytes, *_: object, **__: object) -> object:
        if text == "bad":
            raise RecursionError("too\ndeep " * 100)
        return decode(text, TableSet(knowledge.codes, knowledge.base.roles))

    monkeypatch.setattr("nopost.batch.log_row.decode", fail)
    bad, good = decode_logs([("bad", "bad"), ("good", MEMORY)], knowledge, 1)
    assert bad.problem is not None
    assert bad.problem.startswith("unexpected RecursionError: too deep")
    assert len(bad.problem) == 200
    assert (good.problem, good.stage) == (None, "memory")


def test_names_can_be_written_everywhere(decoder: LogDecoder) -> None:
    """Halves of characters, as in names of files that are no text, become escapes."""
    row = decoder.row(Log("a\udcff\ud800", "", "no\udc80pe"))
    assert (row.name, row.problem) == (r"a\udcff\ud800", r"no\udc80pe")


@settings(max_examples=100)
@given(st.one_of(st.text(), st.binary()))
def test_any_log_gives_a_row(decoder: LogDecoder, content: str | bytes) -> None:
    """Never an exception; either a problem or an outcome."""
    row = decoder.row(Log("any", content))
    assert (row.problem is None) == (row.outcome is not None)


@pytest.mark.slow
def test_two_workers_give_the_same(knowledge: Knowledge) -> None:
    """In the same order, problems included."""
    logs = [Log(f"{name} {i}", content) for i in range(40) for name, content in LOGS] + [Log("last", b"", "cannot be read")]
    assert list(decode_logs(logs, knowledge, 2)) == list(decode_logs(logs, knowledge, 1))


def test_few_logs_start_no_workers(knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    """Starting them would take longer than the work."""
    monkeypatch.setattr(parallel_decoding, "_WorkerPool", None)
    assert len(list(decode_logs(LOGS, knowledge, 2))) == len(LOGS)


def many(names: Iterator[str]) -> Iterator[Log]:
    """A log for each name, a little larger each time."""
    return (Log(name, b"x" * i) for i, name in enumerate(names))


@pytest.mark.slow
def test_a_worker_that_dies_takes_one_log_with_it(knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    """The other logs of its chunk and of other chunks are done by another worker."""
    monkeypatch.setattr(parallel_decoding, "_rows", deadly.rows)
    monkeypatch.setattr(parallel_decoding, "CHUNK_LOGS", 4)
    names = [f"log {i}" for i in range(30)]
    names[13] = "deadly"
    rows = list(decode_logs(many(iter(names)), knowledge, 2))
    assert [row.name for row in rows] == names
    assert [row.boots for row in rows if row.problem is None] == [i for i in range(30) if i != 13]
    assert "ended by itself" in str(rows[13].problem)


@pytest.mark.slow
def test_workers_that_all_die_are_an_error(knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not a row for each of a million logs."""
    monkeypatch.setattr(parallel_decoding, "_rows", deadly.rows)
    monkeypatch.setattr(parallel_decoding, "CHUNK_LOGS", 2)
    monkeypatch.setattr(parallel_decoding, "MAX_DEATHS", 2)
    with pytest.raises(NopostError, match="try --workers 1"):
        list(decode_logs(many("deadly" for _ in range(20)), knowledge, 2))


@pytest.mark.slow
def test_only_a_window_is_read_ahead(knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    """An endless stream is no burden: what is read ahead of the rows stays small. Leaving early ends the workers."""
    monkeypatch.setattr(parallel_decoding, "_rows", deadly.rows)
    monkeypatch.setattr(parallel_decoding, "CHUNK_LOGS", 4)
    read: list[str] = []

    def endless() -> Iterator[Log]:
        while True:
            read.append("x")
            yield Log("x", b"x")

    rows = decode_logs(endless(), knowledge, 2)
    for count, _ in enumerate(islice(rows, 200), start=1):
        assert len(read) <= count + 4 * (parallel_decoding.CHUNKS_AHEAD * 2 + 2)
    rows.close()  # type: ignore[attr-defined]  # it is a generator
