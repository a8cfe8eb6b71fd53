"""Write a file so that a kill or a full disk leaves either the old one or the new one; see where a link leads."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path


def leaves(path: Path, root: Path) -> bool:
    """Whether a path leads out of a folder, through links or otherwise."""
    return not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(root))


def write_atomically(path: Path, content: bytes) -> None:
    """Write beside, flush to disk, then rename over. Raises OSError; then the old file still stands."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
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
