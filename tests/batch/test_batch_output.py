"""What is written can be read by others, is whole or not there, and a full disk is told in one line."""

from __future__ import annotations

import csv
import errno
import io
import json
import sys
from pathlib import Path
from typing import Any

import pyarrow.parquet
import pytest

from nopost.batch import row_writers
from nopost.batch.log_row import LogRow
from nopost.batch.row_writers import RowWriter, open_writer
from nopost.errors import NopostError

ENDINGS = ("jsonl", "csv", "parquet")
ROWS = [
    LogRow("a", form="hex", confidence=0.25, boots=2, cause_1="gpu-dead", cause_1_probability=0.5),
    LogRow('b,"\n€', problem="cannot be read"),
    LogRow("=c"),
]


def read(path: Path) -> list[dict[str, Any]]:
    """The rows by the standard library or by pyarrow; of CSV, which knows only text, empty for None."""
    if path.suffix == ".parquet":
        rows: list[dict[str, Any]] = pyarrow.parquet.read_table(path).to_pylist()
        return rows
    if path.suffix == ".csv":
        with path.open(encoding="utf-8", newline="") as stream:
            return list(csv.DictReader(stream, strict=True))
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def written(row: LogRow, ending: str) -> dict[str, Any]:
    """The row as it comes back."""
    values = row._asdict()
    if ending == "csv":
        values = {name: "" if value is None else str(value) for name, value in values.items()}
        values["name"] = {"=c": "'=c"}.get(row.name, row.name)  # else a spreadsheet would run it
    return values


@pytest.mark.parametrize("ending", ENDINGS)
def test_comes_back(tmp_path: Path, ending: str) -> None:
    """Every value, under the names of the fields, and nothing beside the file."""
    path = tmp_path / f"out.{ending}"
    path.write_text("an older one")
    writer = open_writer(path)
    for row in ROWS:
        writer.write(row)
    assert path.read_text() == "an older one"
    assert writer.finish() == path
    assert writer.finish(whole=False) == path  # it has its name already
    assert writer.count == 3
    assert read(path) == [written(row, ending) for row in ROWS]
    assert list(tmp_path.iterdir()) == [path]


def test_row_groups(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Parquet is written bit by bit, with the right types even where all is empty."""
    monkeypatch.setattr(row_writers, "ROW_GROUP", 2)
    writer = open_writer(tmp_path / "out.parquet")
    for row in [ROWS[2]] * 5:
        writer.write(row)
    found = pyarrow.parquet.ParquetFile(writer.finish())
    assert [found.metadata.row_group(i).num_rows for i in range(found.num_row_groups)] == [2, 2, 1]
    kinds = {field.name: str(field.type) for field in found.schema_arrow}
    assert (kinds["name"], kinds["confidence"], kinds["boots"], kinds["problem"]) == ("string", "double", "int32", "string")


@pytest.mark.parametrize("ending", ENDINGS)
def test_no_rows(tmp_path: Path, ending: str) -> None:
    """Is a file too."""
    assert read(open_writer(tmp_path / f"out.{ending}").finish()) == []


@pytest.mark.parametrize("ending", ENDINGS)
def test_partial_and_discarded(tmp_path: Path, ending: str) -> None:
    """What is not whole does not take the name that was asked for; what is discarded leaves nothing."""
    path = tmp_path / f"out.{ending}"
    writer = open_writer(path)
    writer.write(ROWS[0])
    kept = writer.finish(whole=False)
    assert kept.name == f"out.partial.{ending}"
    assert len(read(kept)) == 1
    again = open_writer(path).finish(whole=False)
    assert (again.name, len(read(kept))) == (f"out.partial-2.{ending}", 1)
    again.unlink()
    other = open_writer(path)
    other.write(ROWS[0])
    other.discard()
    assert list(tmp_path.iterdir()) == [kept]


def write_many(writer: RowWriter, count: int) -> None:
    """Rows that are not short."""
    for number in range(count):
        writer.write(LogRow(f"{number:0200}"))


class Full(io.BytesIO):
    """A disk with little room."""

    room = 2000

    def write(self, data: Any) -> int:
        if self.tell() + len(data) > self.room:
            raise OSError(errno.ENOSPC, "No space left on device")
        return super().write(data)


@pytest.mark.parametrize("ending", ENDINGS)
def test_full_disk(tmp_path: Path, ending: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """One line, and nothing left."""
    monkeypatch.setattr(row_writers, "ROW_GROUP", 16)
    monkeypatch.setattr(Path, "open", lambda *_: Full())
    writer = open_writer(tmp_path / f"out.{ending}")
    with pytest.raises(NopostError, match=rf"out\.{ending}: cannot be written: No space left on device$"):
        write_many(writer, 1000)
    writer.discard()
    assert list(tmp_path.iterdir()) == []


def test_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Other endings, folders, missing folders, and a missing library; each before anything is written."""
    with pytest.raises(NopostError, match=r"must end in \.jsonl, \.csv or \.parquet"):
        open_writer(tmp_path / "out.txt")
    (tmp_path / "out.csv").mkdir()
    with pytest.raises(NopostError, match="no plain file"):
        open_writer(tmp_path / "out.csv")
    with pytest.raises(NopostError, match="cannot be written: No such file or directory"):
        open_writer(tmp_path / "none" / "out.csv")
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    with pytest.raises(NopostError, match="pip install pyarrow"):
        open_writer(tmp_path / "out.parquet")
    assert [path.name for path in tmp_path.iterdir()] == ["out.csv"]
