"""Load a whole knowledge base: from the cache when these very bytes were checked before, else read and check every file.

The cache holds checked knowledge as JSON under a hash of every file. It is never unpickled and never trusted blindly: what does
not build again is dropped and read anew from the YAML.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nopost import __version__
from nopost.errors import KnowledgeError, NopostError
from nopost.files import cache_dir, data_dir, leaves, write_atomically
from nopost.knowledge.build import BASE, KINDS, MAX_BYTES, RENAMED
from nopost.knowledge.model import Knowledge
from nopost.knowledge.problem import Severity

if TYPE_CHECKING:
    from nopost.knowledge.source_files import SourceFiles

EDITIONS_KEPT = 8
"""How many editions are kept."""
CODE = [Path(__file__).parent / room for room in ("knowledge", "linting")]
"""Folders of the code that reads, builds and checks: when it changes, nothing that it passed before counts."""
_SUFFIXES_READ = {".yaml", ".json", ".py"}
"""Endings of the files that make the knowledge what it is: items, schemas, this package."""


def digest_of(folder: Path) -> str:
    """Hash over the names and bytes of all files that the loader reads, the schemas, this package and its version."""
    total = hashlib.sha256(__version__.encode())
    kinds = [folder / name for name in KINDS]
    for place in (folder, *kinds, *_folders_in(kinds), data_dir("schemas"), *CODE):
        total.update(b"\0" + (b"" if place == folder else os.fsencode("/".join(place.parts[-2:]))))
        for path in _files_in(place):
            total.update(os.fsencode(path.name) + b"\0")
            total.update(hashlib.sha256(_content(path, folder)).digest())
    return total.hexdigest()


def _content(path: Path, folder: Path) -> bytes:
    """The part of a file that the reader would look at; nothing of what is no plain file or a link that leaves the folder."""
    with contextlib.suppress(OSError):
        if path.suffix in _SUFFIXES_READ and path.is_file() and not (path.is_symlink() and leaves(path, folder)):
            with path.open("rb") as stream:
                return stream.read(MAX_BYTES + 1)
    return b""


def _files_in(root: Path) -> list[Path]:
    with contextlib.suppress(OSError):
        return sorted(path for path in root.iterdir() if not path.name.startswith(".") and path.name != "__pycache__")
    return []


def _folders_in(places: Iterable[Path]) -> Iterator[Path]:
    """The folders within these, in which items are put in order."""
    yield from (path for place in places for path in _files_in(place) if path.is_dir())


def _cache_file(digest: str) -> Path:
    return cache_dir() / f"knowledge-{digest}.json"


def read_cached(digest: str) -> dict[str, Any] | None:
    """The data kept under this hash, or None."""
    try:
        data = json.loads(_cache_file(digest).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError, NopostError):
        return None
    return data if isinstance(data, dict) else None


def write_cached(digest: str, data: dict[str, Any]) -> None:
    """Keep the data; a cache that cannot be written is no error."""
    with contextlib.suppress(OSError, NopostError):
        folder = cache_dir()
        folder.mkdir(parents=True, exist_ok=True)
        write_atomically(_cache_file(digest), json.dumps(data, ensure_ascii=False).encode())
        kept = sorted(folder.glob("knowledge-*.json"), key=lambda p: p.stat().st_mtime, reverse=True)
        for path in kept[EDITIONS_KEPT:]:
            path.unlink()


def drop_cached(digest: str) -> None:
    """Forget what is kept under this hash."""
    with contextlib.suppress(OSError):
        _cache_file(digest).unlink()


def load_knowledge(root: Path | None = None, *, cached: bool = True) -> Knowledge:
    """Load and check the knowledge base in `root` (the shipped one when None).

    Raises KnowledgeError with all errors of all files. With `cached`, a knowledge base whose bytes were checked
    before is taken from the cache (JSON, keyed by a hash of every file).
    """
    folder = root or data_dir("kb")
    digest = digest_of(folder)
    if cached and (kept := read_cached(digest)) is not None:
        try:
            return _build_knowledge(kept, digest)
        except (KeyError, TypeError, ValueError, AttributeError):
            drop_cached(digest)  # a damaged cache is no reason to stop
    from nopost.linting.runner import examine  # only now: with it come the reader, the schemas and the checks

    source, problems = examine(folder)
    errors = [p for p in problems if p.severity is Severity.ERROR]
    if errors:
        raise KnowledgeError(errors)
    data = _plain_data(source)
    if cached:
        write_cached(digest, data)
    return _build_knowledge(data, digest)


def _plain_data(source: SourceFiles) -> dict[str, Any]:
    assert source.base is not None  # no problems were found
    items = {folder: {name: d.data for name, d in documents.items()} for folder, documents in source.items.items()}
    return {"base": source.base.data, "renamed": source.renamed.data if source.renamed else {}, **items}


def _build_knowledge(data: dict[str, Any], digest: str) -> Knowledge:
    built = {folder: {name: kind.build(item) for name, item in sorted(data[folder].items())} for folder, kind in KINDS.items()}
    return Knowledge(base=BASE.build(data["base"]), renamed=RENAMED.build(data["renamed"]), digest=digest, **built)
