"""A log of many."""

from __future__ import annotations

from typing import NamedTuple


class Log(NamedTuple):
    """A log with its name; `problem`: why it could not be read."""

    name: str
    content: str | bytes
    problem: str = ""
