"""Where the shipped data and the user's own files lie."""

from __future__ import annotations

import os
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

from nopost.errors import NopostError


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
