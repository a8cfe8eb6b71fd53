"""Rules that ask for nothing."""

from __future__ import annotations

from collections.abc import Iterator

from nopost.knowledge.context import Context
from nopost.knowledge.problem import Problem


def premises(context: Context) -> Iterator[Problem]:
    """A rule needs at least one thing that holds, or it would fire before anything is known."""
    for rule in context.rules.values():
        if not rule.when.all:
            hint = "add an all: with what must be known"
            yield context.problem("rules", rule.id, ("when",), "no-premise", "fires without knowing anything", hint)


CHECKS = (premises,)
