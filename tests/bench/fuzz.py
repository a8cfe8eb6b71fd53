"""`python -m tests.bench.fuzz READER`: search for inputs that crash a reader, led by which lines of nopost each input reaches.

Needs atheris (extra `fuzz`). The search begins with the good inputs of `bench.hostile_readers`. Our own errors are no crash. Each
new crash or hang is kept under tests/regressions/READER, where `tests/benchmarks/test_hostile.py` runs it from then on.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import importlib
import importlib.util
import os
import signal
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from types import FrameType, TracebackType
from typing import Any

FOUND = Path(__file__).resolve().parents[1] / "regressions"
LIMIT = 5.0
"""Seconds for one input."""
MEMORY = 2048
"""MiB for the whole search."""
GRACE = 120
"""Seconds that the search may take to start and end."""
HASH = 16


class Hang(BaseException):
    """An input took too long. No Exception, so that no reader mistakes it for one of its own."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Search or run one file again; 1 when something was found, 2 for wrong usage or without atheris."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.fuzz", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("reader", help="a reader of bench.hostile_readers, such as yaml or smbios")
    parser.add_argument("--seconds", type=_seconds, default=60, help="how long to search (default 60)")
    parser.add_argument("--corpus", type=Path, help="folder of inputs to begin with; those that reach new lines are kept there")
    parser.add_argument("--again", type=Path, metavar="FILE", help="only run this file; needs no atheris")
    parser.add_argument("--inside", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args(arguments)
    if asked.inside:
        _search(asked.reader, asked.seconds, asked.corpus)
    if asked.again is None and importlib.util.find_spec("atheris") is None:
        return _refused("atheris is not installed: pip install '.[fuzz]'")
    if asked.reader not in (names := _names()):
        return _refused(f"no reader is called {asked.reader!r}; there are {', '.join(names)}")
    if asked.again is not None:
        return _again(asked.reader, asked.again)
    with tempfile.TemporaryDirectory() as folder:
        corpus = asked.corpus or Path(folder)
        try:
            _fill(asked.reader, corpus)
        except OSError as error:
            return _refused(f"{corpus}: {error.strerror}; give a folder that can be written")
        return _searched(asked.reader, asked.seconds, corpus)


def _seconds(text: str) -> int:
    if not text.isdecimal() or not 0 < int(text) <= 1_000_000:
        raise argparse.ArgumentTypeError("give whole seconds, 1 or more")
    return int(text)


def _refused(why: str) -> int:
    print(f"bench.fuzz: {why}", file=sys.stderr)
    return 2


def _names() -> list[str]:
    from bench.hostile_readers import READERS  # not at the top: the search imports it under atheris

    return sorted(READERS)


def _again(reader: str, path: Path) -> int:
    """Run one file through its reader; what it raises is shown."""
    try:
        data = path.read_bytes()
    except OSError as error:
        return _refused(f"{path}: {error.strerror}")
    said = outcome(reader, data)
    print(said or "read, or refused in an orderly way")
    return int(bool(said))


def outcome(reader: str, data: bytes) -> str:
    """What is wrong with how a reader takes these bytes: the crash or the hang in words, or nothing."""
    from bench.hostile_readers import READERS

    with tempfile.TemporaryDirectory() as folder:
        os.environ["NOPOST_HOME"] = folder
        fault = tried(READERS[reader](Path(folder)).read, data)
    return "".join(traceback.format_exception(fault)) if fault else ""


def tried(read: Callable[[bytes], object], data: bytes) -> BaseException | None:
    """The exception that is a crash, or Hang; None when the input was read or refused."""
    from nopost.errors import NopostError

    signal.signal(signal.SIGALRM, _too_long)
    signal.setitimer(signal.ITIMER_REAL, LIMIT)
    try:
        read(data)
    except NopostError:
        return None
    except (Exception, Hang) as error:
        return error
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
    return None


def _too_long(number: int, frame: FrameType | None) -> None:
    raise Hang(f"more than {LIMIT:g} seconds")


def _fill(reader: str, corpus: Path) -> None:
    """Put the good inputs into the folder."""
    from bench.hostile_readers import READERS

    corpus.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        os.environ["NOPOST_HOME"] = folder
        for data in READERS[reader](Path(folder)).good:
            (corpus / name_of(data)).write_bytes(data)


def name_of(data: bytes) -> str:
    """The file name of an input: the beginning of its SHA-256."""
    return hashlib.sha256(data).hexdigest()[:HASH]


def _searched(reader: str, seconds: int, corpus: Path) -> int:
    """Search in a process of its own, since what is found may end it; tell what is new."""
    before = _found(reader)
    (FOUND / reader).mkdir(parents=True, exist_ok=True)
    inside = [sys.executable, "-m", "tests.bench.fuzz", reader, "--inside", "--seconds", str(seconds), "--corpus", str(corpus)]
    try:
        code = subprocess.run(inside, check=False, timeout=seconds + GRACE, cwd=FOUND.parents[1]).returncode
    except subprocess.TimeoutExpired:
        code = -1
    except KeyboardInterrupt:
        code = 0
    new = sorted(_found(reader) - before)
    with contextlib.suppress(OSError):  # it stays when something is in it
        (FOUND / reader).rmdir()
    for path in new:
        print(f"found: {path}\n  again: python -m tests.bench.fuzz {reader} --again {path}")
    if code and not new:
        print(f"the search ended by itself with {code}", file=sys.stderr)
    elif not new:
        print(f"{reader}: nothing found")
    return int(bool(new or code))


def _found(reader: str) -> set[Path]:
    return set((FOUND / reader).glob("*"))


# -- in the process that searches ---------------------------------------------------------------------------------------


def _search(reader: str, seconds: int, corpus: Path) -> None:
    """Never comes back: libFuzzer ends the process."""
    atheris: Any = importlib.import_module("atheris")
    with atheris.instrument_imports(include=["nopost"]):
        from bench.hostile_readers import READERS

    with tempfile.TemporaryDirectory() as folder:
        os.environ["NOPOST_HOME"] = folder
        prefix = FOUND / reader
        read = READERS[reader](Path(folder)).read
        limits = (f"-max_total_time={seconds}", f"-rss_limit_mb={MEMORY}", "-timeout=0", f"-artifact_prefix={prefix}/")
        atheris.Setup([sys.argv[0], *limits, "-print_final_stats=1", str(corpus)], _Finder(read, prefix))
        atheris.Fuzz()


class _Finder:
    """Tries inputs and keeps the first of each kind of fault: what it is and the line that raised it."""

    def __init__(self, read: Callable[[bytes], object], folder: Path) -> None:
        self.read, self.folder = read, folder
        self.known: set[tuple[str, str, int]] = set()

    def __call__(self, data: bytes) -> None:
        fault = tried(self.read, data)
        if fault is None or (kind := _kind(fault)) in self.known:
            return
        self.known.add(kind)
        (self.folder / name_of(data)).write_bytes(data)
        print(f"\n{kind[0]} at {kind[1]}:{kind[2]}: {fault}", file=sys.stderr)


def _kind(fault: BaseException) -> tuple[str, str, int]:
    """Hangs stop anywhere, so they are all of one kind."""
    last = None if isinstance(fault, Hang) else _last(fault.__traceback__)
    where = (last.tb_frame.f_code.co_filename, last.tb_lineno) if last else ("", 0)
    return (type(fault).__name__, *where)


def _last(trace: TracebackType | None) -> TracebackType | None:
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    return trace


if __name__ == "__main__":
    sys.exit(main())
