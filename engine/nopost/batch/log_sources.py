"""Many logs, one after another: the files of a folder, or the lines of a JSONL file or stream. Never more than one in memory.

A line is a string, or an object with the text under `log`, `text` or `codes` and a name under `id` or `name`, or an object of the
Redfish standard as it is. The text may be a list: strings are lines of the log, whole numbers are codes by their value (33 is 21
in hexadecimal; digits as a display shows them are written as strings).
"""

from __future__ import annotations

import json
import os
import re
import stat
from collections.abc import Iterable, Iterator
from contextlib import nullcontext
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple

from nopost.codes.readers.format_detection import MAX_LENGTH
from nopost.errors import NopostError
from nopost.files import open_plain


class Log(NamedTuple):
    """A log with its name; `problem`: why it could not be read."""

    name: str
    content: str | bytes
    problem: str = ""


TEXT_KEYS = ("log", "text", "codes")
NAME_KEYS = ("id", "name", "Id")
REDFISH_KEYS = frozenset(("@odata.id", "@odata.type", "Members", "MessageId", "MessageArgs", "BootProgress", "LastState"))
CODE_WIDTHS = (2, 4, 8, 16)
"""Digits of a code that was given as a number."""


def log_of_line(number: int, line: bytes) -> Log:
    """The log that a line holds, or its problem. `number`: of the line, from 1; its name when it has none."""
    name = f"line {number}"
    try:
        value = json.loads(line.decode("utf-8-sig"))
    except UnicodeDecodeError:
        return Log(name, b"", f"line {number} is not UTF-8")
    except RecursionError:
        return Log(name, b"", f"line {number} is nested too deep")
    except ValueError as error:
        return Log(name, b"", f"line {number} is no JSON: {error}")
    if isinstance(value, str):
        return Log(name, value)
    if not isinstance(value, dict):
        return Log(name, b"", f"line {number} is neither a string nor an object")
    name = _name(value) or name
    key = next((key for key in TEXT_KEYS if value.get(key) is not None), "")
    if key:
        content = _content(value[key])
        return Log(name, content) if content is not None else Log(name, b"", f"line {number}: {key} is neither text nor codes")
    if REDFISH_KEYS & value.keys():
        return Log(name, line)
    return Log(name, b"", f"line {number} has none of {', '.join(TEXT_KEYS)}")


def _name(value: dict[str, Any]) -> str:
    found = (value[key] for key in NAME_KEYS if isinstance(value.get(key), str | int) and not isinstance(value[key], bool))
    return next((str(each) for each in found if each != ""), "")


def _content(value: Any) -> str | None:
    """The text of a log; None when it is nothing to read."""
    if isinstance(value, str):
        return value
    if isinstance(value, dict):
        return json.dumps(value)
    items = value if isinstance(value, list) else [value]
    if any(isinstance(item, dict) for item in items):
        return json.dumps(items)
    parts = [item if isinstance(item, str) else _code(item) for item in items]
    return None if None in parts else "\n".join(map(str, parts))


def _code(value: Any) -> str | None:
    """A number as a code; None when it cannot be one."""
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < 16 ** CODE_WIDTHS[-1]:
        return None
    digits = f"{value:X}"
    return f"0x{digits.zfill(next(width for width in CODE_WIDTHS if width >= len(digits)))}"


MAX_LINE = 2 * MAX_LENGTH
"""Bytes of a line; a longer one is a problem."""

RESULT_STARTS = {".csv": rb"name,form,source,order,table,", ".jsonl": rb'{"name": .*"table_probability": ', ".parquet": rb"PAR1"}
"""Ending -> how what an earlier run wrote begins (see `row_writers`); no log begins so."""


class LogSource:
    """Logs to be gone through once. `total`: how many `unit` there are, None when not known; `done`: how many were read.

    `skipped`: links that lead out of the folder, to a folder, or to nothing. `results`: files that an earlier run wrote.
    """

    unit = "logs"

    def __init__(self) -> None:
        self.total: int | None = None
        self.done = 0
        self.skipped = 0
        self.results = 0

    def __iter__(self) -> Iterator[Log]:
        raise NotImplementedError


class _FolderEntry(NamedTuple):
    path: str
    is_folder: bool


class FolderLogs(LogSource):
    """Every plain file of a folder and of the folders in it, in order of their names.

    A link to a file is followed when the file lies in the folder; links to folders never are, so nothing goes round.
    """

    unit = "files"

    def __init__(self, folder: Path, leave_out: Iterable[Path]) -> None:
        super().__init__()
        self._folder = str(folder)
        self._inside = os.path.join(os.path.realpath(folder), "")
        self._left_out = {os.path.abspath(path) for path in leave_out}
        self.total = sum(1 for _ in self._entries())

    def __iter__(self) -> Iterator[Log]:
        for entry in self._entries():
            yield self._log(entry)
            self.done += 1

    def _log(self, entry: _FolderEntry) -> Log:
        name = os.path.relpath(entry.path, self._folder).replace(os.sep, "/")
        try:
            if entry.is_folder:
                os.scandir(entry.path).close()
                return Log(name, b"", "the folder could not be read")
            return Log(name, _tail_of(entry.path))
        except OSError as error:
            return Log(name, b"", f"cannot be read: {error.strerror}")

    def _entries(self) -> Iterator[_FolderEntry]:
        """The files, and the folders that cannot be read."""
        self.skipped = self.results = 0
        waiting = [_FolderEntry(self._folder, True)]
        while waiting:
            entry = waiting.pop()
            if not entry.is_folder:
                yield entry
                continue
            try:
                with os.scandir(entry.path) as found:
                    inside = [e for item in found if (e := self._log_entry(item)) is not None]
            except OSError:
                yield entry
                continue
            waiting += sorted(inside, reverse=True)

    def _log_entry(self, item: os.DirEntry[str]) -> _FolderEntry | None:
        if item.is_dir(follow_symlinks=False):
            return _FolderEntry(item.path, True)
        try:
            plain = item.is_file()
        except OSError:  # a link that goes round in a circle
            plain = False
        if item.is_symlink() and not (plain and os.path.realpath(item.path).startswith(self._inside)):
            self.skipped += 1
            return None
        if not plain or os.path.abspath(item.path) in self._left_out:
            return None
        if is_result(item.path):
            self.results += 1
            return None
        return _FolderEntry(item.path, False)


def is_result(path: str) -> bool:
    """Whether a file is what an earlier run wrote, by its ending and its first bytes."""
    first = RESULT_STARTS.get(os.path.splitext(path)[1].lower())
    if first is None:
        return False
    try:
        with open_plain(path) as stream:
            return re.match(first, stream.readline(MAX_LINE)) is not None
    except OSError:
        return False


def _tail_of(path: str) -> bytes:
    """A file's bytes; of a large one as much of its end as the reader looks at, and one more so that it says so."""
    with open_plain(path) as stream:
        size = os.fstat(stream.fileno()).st_size
        if size > MAX_LENGTH:
            stream.seek(size - MAX_LENGTH - 1)
        return stream.read(MAX_LENGTH + 1)


class LineLogs(LogSource):
    """The lines of a JSONL file or stream; empty ones are passed over."""

    unit = "bytes"

    def __init__(self, source: Path | BinaryIO) -> None:
        super().__init__()
        self._source = source
        if isinstance(source, Path):
            with open_plain(source) as stream:  # said now, before anything is written, when it cannot be read
                found = os.fstat(stream.fileno())
            self.total = found.st_size if stat.S_ISREG(found.st_mode) else None

    def __iter__(self) -> Iterator[Log]:
        source = self._source
        with open_plain(source) if isinstance(source, Path) else nullcontext(source) as stream:
            number = 0
            while line := stream.readline(MAX_LINE):
                number += 1
                whole = len(line) < MAX_LINE or line.endswith(b"\n")
                self.done += len(line)
                if not whole:
                    self._pass_over(stream)
                    yield Log(f"line {number}", b"", f"line {number} is longer than {MAX_LINE // 1024 // 1024} MB")
                elif line.strip():
                    yield log_of_line(number, line)

    def _pass_over(self, stream: BinaryIO) -> None:
        """To the end of the line."""
        while rest := stream.readline(MAX_LINE):
            self.done += len(rest)
            if rest.endswith(b"\n"):
                return


def open_logs(path: str | Path, stdin: BinaryIO | None = None, leave_out: Iterable[Path] = ()) -> LogSource:
    """The logs of a folder, of a JSONL file, or for "-" of JSONL on `stdin`. `leave_out`: files of a folder that are no logs.

    Raises NopostError when there is nothing of this name, OSError when it cannot be read.
    """
    if str(path) == "-":
        if stdin is None:
            raise NopostError("there is no standard input to read from")
        return LineLogs(stdin)
    place = Path(path)
    if not place.exists():
        raise NopostError(f"{path}: there is no such folder or file")
    return FolderLogs(place, leave_out) if place.is_dir() else LineLogs(place)
