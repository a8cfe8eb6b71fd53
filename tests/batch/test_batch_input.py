"""Where many logs come from: folders with anything in them, and lines with anything in them."""

from __future__ import annotations

import io
import json
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.batch import log_sources
from nopost.batch.log_row import LogRow
from nopost.batch.log_sources import LineLogs, Log, log_of_line, open_logs
from nopost.batch.row_writers import open_writer
from nopost.codes.readers.format_detection import MAX_LENGTH
from nopost.errors import NopostError


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two logs, one of them in a folder inside."""
    top = tmp_path / "logs"
    (top / "b").mkdir(parents=True)
    (top / "c.txt").write_text("53")
    (top / "b" / "a.log").write_text("21 53")
    return top


def test_folder_in_order_of_names(folder: Path) -> None:
    """Files by their names in the folder, with a total that is known before."""
    logs = open_logs(folder)
    assert (logs.total, logs.unit) == (2, "files")
    assert list(logs) == [Log("b/a.log", b"21 53"), Log("c.txt", b"53")]
    assert logs.done == 2


def test_links_stay_inside(folder: Path, tmp_path: Path) -> None:
    """A link to a file inside is a file; those that lead out, to folders, in a circle or nowhere are counted and passed over."""
    (tmp_path / "secret").write_text("99")
    (tmp_path / "logs2").mkdir()
    (tmp_path / "logs2" / "x").write_text("99")
    for name, target in {
        "inside": "c.txt",
        "out": "../secret",
        "near": "../logs2/x",
        "up": "..",
        "here": ".",
        "gone": "nothing",
        "circle": "circle",
    }.items():
        (folder / name).symlink_to(target)
    logs = open_logs(folder)
    assert logs.total == 3
    assert [log.name for log in logs] == ["b/a.log", "c.txt", "inside"]
    assert logs.skipped == 6


def test_folder_of_odd_things(folder: Path) -> None:
    """Pipes are no files; own results are left out; names that are no text stay apart."""
    os.mkfifo(folder / "pipe")
    (folder / "out.csv").write_text("result")
    (folder / os.fsdecode(b"\xff.log")).write_text("10")
    assert [log.name for log in open_logs(folder, leave_out=[folder / "out.csv"])] == ["b/a.log", "c.txt", "\udcff.log"]


def test_results_of_earlier_runs_are_no_logs(folder: Path) -> None:
    """Whatever they are called: what a run wrote begins as no log does. A CSV of someone else's is a log like any other."""
    for name in ("one.csv", "two.JSONL"):
        writer = open_writer(folder / name)
        writer.write(LogRow("c.txt", form="hex"))
        writer.finish()
    (folder / "three.parquet").write_bytes(b"PAR1....PAR1")
    (folder / "mine.csv").write_text("53\n")
    (folder / "mine.jsonl").write_text('{"name": "x", "log": "53"}\n')
    logs = open_logs(folder)
    assert (logs.total, logs.results) == (4, 3)
    assert [log.name for log in logs] == ["b/a.log", "c.txt", "mine.csv", "mine.jsonl"]
    assert logs.results == 3


@pytest.mark.parametrize("name", ["pipe", "/dev/zero", "/dev/null"])
def test_pipes_and_devices_are_refused(tmp_path: Path, name: str) -> None:
    """Nobody may be writing into a pipe, and a device may have no end."""
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OSError, match="pipe or a device"):
        open_logs(tmp_path / name)


def test_large_file_by_its_end(folder: Path) -> None:
    """One byte more than the reader takes, so that it says that it left something out."""
    with (folder / "c.txt").open("wb") as stream:
        stream.truncate(3 * MAX_LENGTH)
        stream.seek(0, os.SEEK_END)
        stream.write(b" 21 53")
    content = list(open_logs(folder))[1].content
    assert isinstance(content, bytes)
    assert len(content) == MAX_LENGTH + 1
    assert content.endswith(b" 21 53")


def test_what_cannot_be_read_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file or a folder that refuses is a problem of its own."""

    def refuse(path: str) -> bytes:
        raise PermissionError(13, "Permission denied", path)

    monkeypatch.setattr(log_sources, "_tail_of", refuse)
    assert [log.problem for log in open_logs(folder)] == ["cannot be read: Permission denied"] * 2


def test_deep_folders(tmp_path: Path) -> None:
    """As deep as the system allows, without recursion."""
    here = os.getcwd()
    os.chdir(tmp_path)
    try:
        for _ in range(300):
            os.mkdir("d")
            os.chdir("d")
        Path("log").write_text("53")
    finally:
        os.chdir(here)
    assert [log.content for log in open_logs(tmp_path)] == [b"53"]


def test_nothing_of_this_name(tmp_path: Path) -> None:
    """One clear line."""
    with pytest.raises(NopostError, match="no such folder or file"):
        open_logs(tmp_path / "none")
    with pytest.raises(NopostError, match="no standard input"):
        open_logs("-")


LINES = [
    (json.dumps("53 21"), Log("line 1", "53 21")),
    ('{"id": "a", "log": "53"}', Log("a", "53")),
    ('{"name": "b", "text": "0x53"}', Log("b", "0x53")),
    ('{"id": 7, "codes": ["21", "53"]}', Log("7", "21\n53")),
    ('{"codes": [33, 0, 4660]}', Log("line 1", "0x21\n0x00\n0x1234")),
    ('{"codes": 291}', Log("line 1", "0x0123")),
    ('\ufeff{"log": ""}', Log("line 1", "")),
    ('{"log": {"Members": []}}', Log("line 1", '{"Members": []}')),
    ('{"Id": "B1-1", "MessageArgs": ["1"]}', Log("B1-1", b'{"Id": "B1-1", "MessageArgs": ["1"]}')),
]


@pytest.mark.parametrize(("line", "wanted"), LINES)
def test_lines(line: str, wanted: Log) -> None:
    """Strings, objects with a text or codes, and objects of the Redfish standard."""
    assert log_of_line(1, line.encode()) == wanted


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        (b"{", "line 1 is no JSON: "),
        (b"21 53", "line 1 is no JSON: "),
        (b"[1]", "line 1 is neither a string nor an object"),
        (b"12", "line 1 is neither a string nor an object"),
        (b'"\xff"', "line 1 is not UTF-8"),
        (b"[" * 100_000, "line 1 is nested too deep"),
        (b'{"id": "x"}', "line 1 has none of log, text, codes"),
        (b'{"log": null}', "line 1 has none of log, text, codes"),
        (b'{"codes": [-1]}', "line 1: codes is neither text nor codes"),
        (b'{"codes": [true]}', "line 1: codes is neither text nor codes"),
        (b'{"codes": 1.5}', "line 1: codes is neither text nor codes"),
        (b'{"codes": ' + b"9" * 10_000 + b"}", "line 1 is no JSON: "),
    ],
)
def test_broken_lines(line: bytes, problem: str) -> None:
    """Each says what is wrong with it."""
    assert log_of_line(1, line).problem.startswith(problem)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(["id", "name", "log", "text", "codes", "Members"]), inner)
    ),
    max_leaves=10,
)


@pytest.mark.slow
@given(st.one_of(st.binary(), JSON.map(lambda value: json.dumps(value).encode())))
def test_any_line(line: bytes) -> None:
    """No line raises."""
    log = log_of_line(1, line)
    assert log.name
    assert isinstance(log.content, str | bytes)


def test_stream_of_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    """Empty lines count but are no logs; too long ones are told without being held; the last needs no end."""
    monkeypatch.setattr(log_sources, "MAX_LINE", 64)
    stream = io.BytesIO(b'"1"\n\n   \n"' + b"x" * 200 + b'"\n' + b'"' + b"y" * 61 + b'"\n' + b'"5"')
    logs = open_logs("-", stream)
    assert logs.total is None
    found = list(logs)
    assert [log.name for log in found] == ["line 1", "line 4", "line 5", "line 6"]
    assert found[1].problem.startswith("line 4 is longer than")
    assert [log.content for log in (found[0], *found[2:])] == ["1", "y" * 61, "5"]
    assert logs.done == len(stream.getvalue())
    assert not stream.closed


def test_file_of_lines(tmp_path: Path) -> None:
    """Its size is the total."""
    path = tmp_path / "logs.jsonl"
    path.write_bytes(b'"53"\r\n"21"\r\n')
    logs = open_logs(str(path))
    assert isinstance(logs, LineLogs)
    assert (logs.total, logs.unit) == (12, "bytes")
    assert [log.content for log in logs] == ["53", "21"]
    assert logs.done == 12
