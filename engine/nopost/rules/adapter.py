"""The only module that imports experta (1.9.4, LGPL-3, used unmodified).

Its old dependency frozendict needs `collections.Mapping`, gone since Python 3.10, at one class statement; the alias is
there only while it is imported. Experta also installs a logging handler when imported; that is undone.
"""

from __future__ import annotations

import collections
import collections.abc
import logging
from collections.abc import Callable, Sequence
from typing import Any

_handlers = logging.root.handlers[:]
_missing = not hasattr(collections, "Mapping")
if _missing:
    collections.Mapping = collections.abc.Mapping  # type: ignore[attr-defined]
try:
    import frozendict  # noqa: F401
finally:
    if _missing:
        del collections.Mapping  # type: ignore[attr-defined]

from experta import NOT, Fact, KnowledgeEngine  # noqa: E402
from experta import Rule as _ExpertaRule  # noqa: E402

logging.root.handlers[:] = _handlers

Pair = tuple[str, str]
"""A name and its value, the only kind of fact there is."""


class Known(Fact):  # type: ignore[misc]
    """A finding's answer or a fact of the records: name and value."""


class Engine(KnowledgeEngine):  # type: ignore[misc]
    """An experta engine whose rules come from data. One per process; `infer` resets it each time."""

    def __init__(self, rules: Sequence[Any]) -> None:
        self._given = list(rules)
        super().__init__()

    def get_rules(self) -> list[Any]:
        """The rules that the network is built from."""
        return self._given

    def infer(self, known: Sequence[Pair]) -> None:
        """Forget everything, declare all facts in one batch (experta's agenda needs that), and run to the end."""
        self.reset()
        if known:
            self.declare(*(Known(name=name, value=value) for name, value in known))
        self.run()

    def learn(self, pair: Pair) -> None:
        """Declare one more fact while the rules run."""
        self.declare(Known(name=pair[0], value=pair[1]))


def make_rule(name: str, salience: int, present: Sequence[Pair], absent: Sequence[Pair], fire: Callable[[], None]) -> Any:
    """One experta rule from ground literals: AND of the present ones, NOT on each absent one."""
    patterns = [Known(name=key, value=value) for key, value in present]
    patterns += [NOT(Known(name=key, value=value)) for key, value in absent]

    def right_hand_side(engine: Engine) -> None:
        fire()

    right_hand_side.__name__ = name.replace("-", "_")
    return _ExpertaRule(*patterns, salience=salience)(right_hand_side)
