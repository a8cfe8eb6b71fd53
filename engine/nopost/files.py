"""Read plain files only; write so that a kill or a full disk leaves the old file or the new one; see where a link leads."""

from __future__ import annotations

import contextlib
import errno
import glob
import os
import stat
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

NOT_PLAIN = "it is a pipe or a device, not a plain file; pipe what it gives into standard input"
_HANDED_OVER = ("/dev/stdin", "/dev/fd/", "/proc/self/fd/")
"""Names of what was opened for this process by another: a pipe there has a writer."""
UNFINISHED = ".part"
OLD = 3600
"""Seconds after which no write is under way any more."""


def leaves(path: Path, root: Path) -> bool:
    """Whether a path leads out of a folder, through links or otherwise."""
    return not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(root))


def open_plain(path: Path | str) -> BinaryIO:
    """Open a plain file to read it. Raises OSError, also for a pipe or a device, which might never end."""
    name = os.fspath(path)
    if name.startswith(_HANDED_OVER) and stat.S_ISFIFO(os.stat(name).st_mode):
        return open(name, "rb")
    handle = os.open(name, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))  # a pipe must not keep us
    mode = os.fstat(handle).st_mode
    if not stat.S_ISREG(mode):
        os.close(handle)
        said = os.strerror(errno.EISDIR) if stat.S_ISDIR(mode) else NOT_PLAIN
        raise OSError(errno.EISDIR if stat.S_ISDIR(mode) else errno.EINVAL, said, name)
    return os.fdopen(handle, "rb")


@contextlib.contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Alone in a folder, as far as others ask too; where folders cannot be locked, not alone. Raises OSError."""
    try:
        import fcntl
    except ImportError:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):  # some network file systems have no locks
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _sweep(path: Path) -> None:
    """Remove what writes of this file left that were killed; one that is under way is young."""
    with contextlib.suppress(OSError):
        for left in path.parent.glob(f".{glob.escape(path.name)}.*{UNFINISHED}"):
            if time.time() - left.stat().st_mtime > OLD:
                left.unlink()


def write_atomically(path: Path, content: bytes) -> None:
    """Write beside, flush to disk, then rename over. Raises OSError; then the old file still stands."""
    _sweep(path)
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=UNFINISHED, dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise
    with contextlib.suppress(OSError, AttributeError):  # a folder cannot be flushed everywhere
        folder = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
