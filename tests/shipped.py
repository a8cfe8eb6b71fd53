"""The shipped knowledge base, read once for all tests of a process, those that need it while they are collected too."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from nopost.knowledge.model import Knowledge
from nopost.loading import load_knowledge


@cache
def shipped_knowledge() -> Knowledge:
    """Read from its files, not from a cache."""
    return load_knowledge(Path(__file__).resolve().parents[1] / "kb", cached=False)
