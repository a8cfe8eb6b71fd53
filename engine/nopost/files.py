"""Read plain files only; write so that a kill or a full disk leaves the old file or the new one; lock a folder; see where a link
leads.

Also where the shipped data and the user's own files lie.
"""

from __future__ import annotations

import contextlib
import errno
import glob
import os
import stat
import time
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import BinaryIO

from nopost.errors import NopostError

NOT_PLAIN = "it is a pipe or a device, not a plain file; pipe what it gives into standard input"
_HANDED_OVER = ("/dev/stdin", "/dev/fd/", "/proc/self/fd/")
"""Names of what was opened for this process by another: a pipe there has a writer."""
UNFINISHED = ".part"
OLD = 3600
"""Seconds after which no write is under way any more."""
LOCK = ".lock"
"""The file of a folder by which programs wait for each other."""
LONGEST_WAIT = 30.0
"""Seconds to wait for a lock; a write takes a small part of one."""


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
    """Alone in a folder, as far as others ask too; where a file system has no locks, not alone.

    The lock is a file in the folder, which stays there, and which everyone who may write in the folder may lock. Raises OSError,
    also when another has held the lock for too long.
    """
    import filelock  # only here: it costs start-up time

    lock = filelock.FileLock(folder / LOCK, mode=0o666)
    try:
        lock.acquire(timeout=LONGEST_WAIT, poll_interval=0.01)
    except filelock.Timeout:
        raise OSError(errno.EBUSY, "another nopost has been writing there for too long", os.fspath(folder)) from None
    except NotImplementedError:  # some network file systems have no locks
        yield
        return
    try:
        yield
    finally:
        lock.release()


def _unfinished(path: Path) -> tuple[int, str]:
    """A new file beside, open for writing, and its name; with the mode that any new file gets: what the umask leaves."""
    name = os.path.join(path.parent, f".{path.name}.{os.urandom(4).hex()}{UNFINISHED}")
    return os.open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666), name


def _sweep(path: Path, age: float) -> None:
    """Remove what writes of this file left that were killed at least `age` seconds ago."""
    with contextlib.suppress(OSError):
        for left in path.parent.glob(f".{glob.escape(path.name)}.*{UNFINISHED}"):
            if time.time() - left.stat().st_mtime >= age:
                left.unlink()


def write_atomically(path: Path, content: bytes, *, alone: bool = False) -> None:
    """Write beside, flush to disk, then rename over. Raises OSError; then the old file still stands.

    The file keeps the mode that it had, and a new one gets what the umask leaves, as if it were written in place: results,
    records, knowledge and sessions are there to be shared, and the umask and the folder are where a user says with whom.
    `alone`: the caller has locked the folder, so that what is unfinished there is left over, however young.
    """
    _sweep(path, 0 if alone else OLD)
    handle, name = _unfinished(path)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        with contextlib.suppress(OSError):  # there is no old file, or it is another's and the mode cannot be given
            os.chmod(name, stat.S_IMODE(os.stat(path).st_mode))
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


def data_dir(name: str) -> Path:
    """Return the shipped folder "kb" or "schemas", in a wheel or in a source checkout."""
    packaged = Path(str(files("nopost"))) / "_data" / name
    if packaged.is_dir():
        return packaged
    return Path(__file__).resolve().parents[2] / name


def user_dir() -> Path:
    """Folder of the user's sessions: $NOPOST_HOME, else the platform's data folder. Not created here. Raises NopostError."""
    override = os.environ.get("NOPOST_HOME")
    if override:
        return Path(os.path.expanduser(override))
    from platformdirs import user_data_path  # only here: it costs start-up time

    return _found(lambda: user_data_path("nopost", appauthor=False))


def cache_dir() -> Path:
    """Folder for what can be computed again: $NOPOST_HOME/cache, else the platform's cache folder. Raises NopostError."""
    override = os.environ.get("NOPOST_HOME")
    if override:
        return Path(os.path.expanduser(override)) / "cache"
    from platformdirs import user_cache_path

    return _found(lambda: user_cache_path("nopost", appauthor=False))


def _found(find: Callable[[], Path]) -> Path:
    try:
        return find()
    except RuntimeError:  # no home folder, and no name to look it up by
        raise NopostError("there is no home folder to keep sessions in: set NOPOST_HOME to a folder") from None
