"""Knowledge that was checked once, kept as JSON under a hash of every file. Never unpickled, never trusted blindly:
what does not build again is dropped and read anew from the YAML."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from pathlib import Path
from typing import Any

from nopost import __version__
from nopost.errors import NopostError
from nopost.files import leaves, write_atomically
from nopost.knowledge.kinds import KINDS
from nopost.knowledge.yaml_file import MAX_BYTES
from nopost.paths import cache_dir, data_dir

KEEP = 8
"""How many editions are kept."""
_READ = {".yaml", ".json", ".py"}
"""Endings of the files that make the knowledge what it is: items, schemas, this package."""


def digest_of(folder: Path) -> str:
    """Hash over the names and bytes of all files that the loader reads, the schemas, this package and its version."""
    total = hashlib.sha256(__version__.encode())
    for place in (folder, *(folder / name for name in KINDS), data_dir("schemas"), Path(__file__).parent):
        total.update(b"\0")
        for path in _entries(place):
            total.update(os.fsencode(path.name) + b"\0")
            total.update(hashlib.sha256(_content(path, folder)).digest())
    return total.hexdigest()


def _content(path: Path, folder: Path) -> bytes:
    """The part of a file that the reader would look at; nothing of what is no plain file or a link that leaves the folder."""
    with contextlib.suppress(OSError):
        if path.suffix in _READ and path.is_file() and not (path.is_symlink() and leaves(path, folder)):
            with path.open("rb") as stream:
                return stream.read(MAX_BYTES + 1)
    return b""


def _entries(root: Path) -> list[Path]:
    with contextlib.suppress(OSError):
        return sorted(path for path in root.iterdir() if not path.name.startswith(".") and path.name != "__pycache__")
    return []


def _path(digest: str) -> Path:
    return cache_dir() / f"knowledge-{digest}.json"


def read(digest: str) -> dict[str, Any] | None:
    """The data kept under this hash, or None."""
    try:
        data = json.loads(_path(digest).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError, NopostError):
        return None
    return data if isinstance(data, dict) else None


def write(digest: str, data: dict[str, Any]) -> None:
    """Keep the data; a cache that cannot be written is no error."""
    with contextlib.suppress(OSError, NopostError):
        folder = cache_dir()
        folder.mkdir(parents=True, exist_ok=True)
        write_atomically(_path(digest), json.dumps(data, ensure_ascii=False).encode())
        kept = sorted(folder.glob("knowledge-*.json"), key=lambda p: p.stat().st_mtime, reverse=True)
        for path in kept[KEEP:]:
            path.unlink()


def drop(digest: str) -> None:
    """Forget what is kept under this hash."""
    with contextlib.suppress(OSError):
        _path(digest).unlink()
