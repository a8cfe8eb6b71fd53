"""Many logs, one after another: the files of a folder, or the lines of a JSONL file or stream. Never more than one in memory."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterable, Iterator
from contextlib import nullcontext
from pathlib import Path
from typing import BinaryIO, NamedTuple

from nopost.cases.batch_line import log_of_line
from nopost.cases.batch_log import Log
from nopost.codes.read import MAX_LENGTH
from nopost.errors import NopostError
from nopost.files import open_plain

MAX_LINE = 2 * MAX_LENGTH
"""Bytes of a line; a longer one is a problem."""

RESULTS = {".csv": rb"name,form,source,order,table,", ".jsonl": rb'{"name": .*"table_probability": ', ".parquet": rb"PAR1"}
"""Ending -> how what an earlier run wrote begins (see batch_output); no log begins so."""


class Logs:
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


class _Entry(NamedTuple):
    path: str
    is_folder: bool


class FolderLogs(Logs):
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

    def _log(self, entry: _Entry) -> Log:
        name = os.path.relpath(entry.path, self._folder).replace(os.sep, "/")
        try:
            if entry.is_folder:
                os.scandir(entry.path).close()
                return Log(name, b"", "the folder could not be read")
            return Log(name, _end_of(entry.path))
        except OSError as error:
            return Log(name, b"", f"cannot be read: {error.strerror}")

    def _entries(self) -> Iterator[_Entry]:
        """The files, and the folders that cannot be read."""
        self.skipped = self.results = 0
        waiting = [_Entry(self._folder, True)]
        while waiting:
            entry = waiting.pop()
            if not entry.is_folder:
                yield entry
                continue
            try:
                with os.scandir(entry.path) as found:
                    inside = [e for item in found if (e := self._wanted(item)) is not None]
            except OSError:
                yield entry
                continue
            waiting += sorted(inside, reverse=True)

    def _wanted(self, item: os.DirEntry[str]) -> _Entry | None:
        if item.is_dir(follow_symlinks=False):
            return _Entry(item.path, True)
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
        return _Entry(item.path, False)


def is_result(path: str) -> bool:
    """Whether a file is what an earlier run wrote, by its ending and its first bytes."""
    first = RESULTS.get(os.path.splitext(path)[1].lower())
    if first is None:
        return False
    try:
        with open_plain(path) as stream:
            return re.match(first, stream.readline(MAX_LINE)) is not None
    except OSError:
        return False


def _end_of(path: str) -> bytes:
    """A file's bytes; of a large one as much of its end as the reader looks at, and one more so that it says so."""
    with open_plain(path) as stream:
        size = os.fstat(stream.fileno()).st_size
        if size > MAX_LENGTH:
            stream.seek(size - MAX_LENGTH - 1)
        return stream.read(MAX_LENGTH + 1)


class LineLogs(Logs):
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


def open_logs(path: str | Path, stdin: BinaryIO | None = None, leave_out: Iterable[Path] = ()) -> Logs:
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
