"""The rows of many logs into a file: JSONL, CSV or Parquet, by the ending of its name.

It is written beside, under a name of its own, and renamed when it is whole.
"""

from __future__ import annotations

import contextlib
import csv
import io
import itertools
import json
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO, get_args, get_type_hints

from nopost.batch.log_row import LogRow
from nopost.errors import NopostError

ROW_GROUP = 8192
"""Rows of a row group in Parquet, and so many are held in memory."""


class RowWriter:
    """A file of rows in the making. `part`: where it is until it is whole; `count`: rows in it.

    All methods raise NopostError when the disk is full or anything else is wrong with the file; then nothing is left of it.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.part = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
        self.count = 0
        self._finished: Path | None = None
        with self._reporting_errors():
            self._stream: BinaryIO = self.part.open("xb")
        with self._reporting_errors():
            self._begin(self._stream)

    def write(self, row: LogRow) -> None:
        """Add a row."""
        with self._reporting_errors():
            self._write_row(row)
        self.count += 1

    def finish(self, *, whole: bool = True) -> Path:
        """Close the file and name it: as asked for, or with `partial` in the name. Once more after Ctrl-C does the rest."""
        name = self.path if whole else self._partial()
        with self._reporting_errors():
            if not self._stream.closed:
                self._finish()
                self._stream.flush()
                os.fsync(self._stream.fileno())
                self._stream.close()
            if self._finished is None:
                os.replace(self.part, name)
                self._finished = name
        return self._finished

    def _partial(self) -> Path:
        """A name that nothing has yet: an earlier part is kept."""
        for number in itertools.count(1):
            again = f"-{number}" if number > 1 else ""
            name = self.path.with_name(f"{self.path.stem}.partial{again}{self.path.suffix}")
            if not os.path.lexists(name):
                break
        return name

    def discard(self) -> None:
        """Leave nothing behind."""
        self._abandon()
        with contextlib.suppress(OSError, ValueError):
            self._stream.close()
        with contextlib.suppress(OSError):
            self.part.unlink()

    @contextlib.contextmanager
    def _reporting_errors(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            if hasattr(self, "_stream"):
                self.discard()
            raise NopostError(f"{self.path}: cannot be written: {error.strerror or error}") from None

    def _begin(self, stream: BinaryIO) -> None:
        """What stands before the rows."""

    def _write_row(self, row: LogRow) -> None:
        raise NotImplementedError

    def _finish(self) -> None:
        """What stands after the rows."""

    def _abandon(self) -> None:
        """Let go of the stream without caring for what is lost."""


class JsonLinesWriter(RowWriter):
    """One object a line."""

    def _write_row(self, row: LogRow) -> None:
        self._stream.write(json.dumps(row._asdict(), ensure_ascii=False).encode() + b"\n")


FORMULA_STARTS = tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")
"""A cell that begins so, the last four being wide forms, is run as a formula by spreadsheets (OWASP, "CSV Injection")."""


class CsvWriter(RowWriter):
    """A line of names, then the rows (RFC 4180), in UTF-8. Text that a spreadsheet would run has ' before it (OWASP)."""

    def _begin(self, stream: BinaryIO) -> None:
        self._line = io.StringIO(newline="")
        self._csv = csv.writer(self._line)
        self._csv.writerow(LogRow._fields)
        self._flush()

    def _write_row(self, row: LogRow) -> None:
        self._csv.writerow([f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA_STARTS) else cell for cell in row])
        self._flush()

    def _flush(self) -> None:
        self._stream.write(self._line.getvalue().encode())
        self._line.seek(0)
        self._line.truncate()


class ParquetWriter(RowWriter):
    """Row groups, by pyarrow."""

    def _begin(self, stream: BinaryIO) -> None:
        import pyarrow
        import pyarrow.parquet

        kinds = {str: pyarrow.string(), float: pyarrow.float64(), int: pyarrow.int32()}
        self._rows: list[LogRow] = []
        hints = get_type_hints(LogRow)
        self._schema = pyarrow.schema([(name, kinds[(get_args(hints[name]) or (str,))[0]]) for name in LogRow._fields])
        self._table: Any = pyarrow.Table
        self._writer: Any = pyarrow.parquet.ParquetWriter(stream, self._schema)

    def _write_row(self, row: LogRow) -> None:
        self._rows.append(row)
        if len(self._rows) >= ROW_GROUP:
            self._flush()

    def _flush(self) -> None:
        rows, self._rows = self._rows, []
        self._writer.write_table(self._table.from_pylist([row._asdict() for row in rows], schema=self._schema))

    def _finish(self) -> None:
        if self._rows:
            self._flush()
        self._writer.close()

    def _abandon(self) -> None:
        if hasattr(self, "_writer"):
            self._writer.is_open = False  # else it would try to write its end when it is thrown away


WRITERS: dict[str, type[RowWriter]] = {".jsonl": JsonLinesWriter, ".csv": CsvWriter, ".parquet": ParquetWriter}


def open_writer(path: Path) -> RowWriter:
    """A writer for the file's ending. Raises NopostError for others, and when what it needs is not installed."""
    ending = path.suffix.lower()
    if ending not in WRITERS:
        raise NopostError(f"{path}: its name must end in {', '.join(list(WRITERS)[:-1])} or {list(WRITERS)[-1]}")
    if path.exists() and not path.is_file():
        raise NopostError(f"{path}: there is something of this name that is no plain file")
    if ending == ".parquet" and not _has_pyarrow():
        raise NopostError("Parquet is written by pyarrow, which is not installed; type: pip install pyarrow")
    return WRITERS[ending](path)


def _has_pyarrow() -> bool:
    try:
        import pyarrow.parquet  # noqa: F401
    except ImportError:
        return False
    return True
