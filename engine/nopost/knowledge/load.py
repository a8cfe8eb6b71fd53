"""Load a whole knowledge base: read every file, check every file, then report or build."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from nopost.errors import KnowledgeError
from nopost.knowledge import cache
from nopost.knowledge.kinds import BASE, KINDS
from nopost.knowledge.model import Knowledge
from nopost.knowledge.problem import Problem, Severity
from nopost.knowledge.source import Source, read_source
from nopost.paths import data_dir


def load_knowledge(root: Path | None = None, *, cached: bool = True) -> Knowledge:
    """Load and check the knowledge base in `root` (the shipped one when None).

    Raises KnowledgeError with all errors of all files. With `cached`, a knowledge base whose bytes were checked
    before is taken from the cache (JSON, keyed by a hash of every file).
    """
    folder = root or data_dir("kb")
    digest = cache.digest_of(folder)
    if cached and (kept := cache.read(digest)) is not None:
        try:
            return _build(kept, digest)
        except (KeyError, TypeError, ValueError, AttributeError):
            cache.drop(digest)  # a damaged cache is no reason to stop
    source, problems = examine(folder)
    errors = [p for p in problems if p.severity is Severity.ERROR]
    if errors:
        raise KnowledgeError(errors)
    data = _plain(source)
    if cached:
        cache.write(digest, data)
    return _build(data, digest)


def examine(folder: Path) -> tuple[Source, list[Problem]]:
    """Read and check a knowledge base; all problems of all files, sorted by file and line."""
    from nopost.knowledge.check import meaning_problems  # after the files: needs the schema machinery

    source = read_source(folder)
    return source, sorted({*source.problems, *meaning_problems(source)})


def _plain(source: Source) -> dict[str, Any]:
    assert source.base is not None  # no problems were found
    items = {folder: {name: d.data for name, d in documents.items()} for folder, documents in source.items.items()}
    return {"base": source.base.data, **items}


def _build(data: dict[str, Any], digest: str) -> Knowledge:
    built = {folder: {name: kind.build(item) for name, item in sorted(data[folder].items())} for folder, kind in KINDS.items()}
    return Knowledge(base=BASE.build(data["base"]), digest=digest, **built)
