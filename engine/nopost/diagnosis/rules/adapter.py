"""The only module that imports experta (1.9.4, LGPL-3, used unmodified).

Its old dependency frozendict needs `collections.Mapping`, gone since Python 3.10, at one class statement; the alias is
there only while it is imported. Experta also installs a logging handler when imported; that is undone.
"""

from __future__ import annotations

import collections
import collections.abc
import logging
from collections.abc import Callable, Iterable, Iterator, Sequence
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

from experta import NOT, Fact, InitialFact, KnowledgeEngine  # noqa: E402
from experta import Rule as _ExpertaRule  # noqa: E402
from experta.matchers import ReteMatcher  # noqa: E402
from experta.matchers.rete.check import FeatureCheck  # noqa: E402
from experta.matchers.rete.token import Token  # noqa: E402
from experta.strategies import DepthStrategy  # noqa: E402

logging.root.handlers[:] = _handlers

Pair = tuple[str, str]
"""A name and its value, the only kind of fact there is."""


class Known(Fact):  # type: ignore[misc]
    """A finding's answer or a fact of the records: name and value."""


class Matcher(ReteMatcher):  # type: ignore[misc]
    """Experta's network, entered where it matters.

    Its own `reset` comes to a node once for each way that leads there; its own `changes` shows a fact to every test of every
    name and value, and asks every rule afterwards. Here each node is reset once, a fact goes straight to the joins that wait
    for its pair (`entries`), and only rules with news are asked. Its own `prepare_ruleset` brings rules into the form that
    `make_rule` gives them at once. What fires is the same.
    """

    def __init__(self, engine: KnowledgeEngine) -> None:
        super().__init__(engine)
        links = list(_links(self.root_node, None, set()))
        self.entries = {pair: node.children for above, node in links if (pair := _pair(above, node))}
        self._resets = [node._reset for _, node in links]
        self._ends = self._get_conflict_set_nodes()

    @staticmethod
    def prepare_ruleset(engine: KnowledgeEngine) -> set[Any]:
        """The rules of an engine: each is one AND already, and begins with a fact."""
        return set(engine.get_rules())

    def reset(self) -> None:
        """Empty every node's memory."""
        for reset in self._resets:
            reset()

    def changes(self, adding: Iterable[Any] = (), deleting: Iterable[Any] = ()) -> tuple[list[Any], list[Any]]:
        """Pass facts through the network: the activations that came and those that went."""
        for fact in deleting:
            self.root_node.remove(fact)
        for fact in adding:
            if isinstance(fact, Known):
                for child in self.entries[fact["name"], fact["value"]]:
                    child.callback(Token.valid(fact))
            else:
                self.root_node.add(fact)
        news = [end.get_activations() for end in self._ends if end.added or end.removed]
        return [a for added, _ in news for a in added], [a for _, removed in news for a in removed]


def _links(node: Any, above: Any, seen: set[int]) -> Iterator[tuple[Any, Any]]:
    """A node and all below it, each once, with the first node that leads to it; a test hangs on one node only."""
    seen.add(id(node))
    yield above, node
    for child in node.children:
        if id(child.node) not in seen:
            yield from _links(child.node, node, seen)


def _pair(above: Any, node: Any) -> Pair | None:
    """The pair that a fact has which passed both of these tests; None unless they test name and value."""
    checks = [getattr(test, "matcher", None) for test in (above, node)]
    asked = {check.what: check.expected.value for check in checks if isinstance(check, FeatureCheck)}
    return (asked["name"], asked["value"]) if len(asked) == 2 else None


class Strategy(DepthStrategy):  # type: ignore[misc]
    """Salience alone decides, for here it is unique; experta would compare the facts too."""

    def get_key(self, activation: Any) -> int:
        """Place on the agenda; the highest fires next."""
        return int(activation.rule.salience)


class Engine(KnowledgeEngine):  # type: ignore[misc]
    """An experta engine whose rules come from data. One per process; `infer` resets it each time."""

    __matcher__ = Matcher
    __strategy__ = Strategy

    def __init__(self, rules: Sequence[Any]) -> None:
        self._given = list(rules)
        self._fired: Callable[[str], Iterable[Pair]] = _nothing
        super().__init__()
        self._first: list[Any] = super().get_deffacts()

    def get_rules(self) -> list[Any]:
        """The rules that the network is built from."""
        return self._given

    def get_deffacts(self) -> list[Any]:
        """The first facts, looked for once."""
        return self._first

    def infer(self, known: Sequence[Pair], fired: Callable[[str], Iterable[Pair]]) -> None:
        """Forget everything, declare all facts that a rule asks for in one batch (experta's agenda needs that), and run to the
        end.

        `fired` is called with the name of each rule that fires, in order; the pairs that it returns are declared at once.
        """
        self.reset()
        if facts := [Known(name=pair[0], value=pair[1]) for pair in known if pair in self.matcher.entries]:
            self.declare(*facts)
        self._fired = fired
        try:
            self.run()
        finally:
            self._fired = _nothing  # what a run came to is not kept

    def fire(self, name: str) -> None:
        """Tell that a rule fires, and declare what is known by it. Called by the rules while they run."""
        for pair in self._fired(name):
            if pair in self.matcher.entries:
                self.declare(Known(name=pair[0], value=pair[1]))


def _nothing(name: str) -> Iterable[Pair]:
    return ()


def make_rule(name: str, salience: int, present: Sequence[Pair], absent: Sequence[Pair]) -> Any:
    """One experta rule from ground literals: AND of the present ones, NOT on each absent one.

    When it fires it calls its engine's `fire` with its name.
    """
    patterns = [Known(name=key, value=value) for key, value in present] or [InitialFact()]
    patterns += [NOT(Known(name=key, value=value)) for key, value in absent]

    def right_hand_side(engine: Engine) -> None:
        engine.fire(name)

    right_hand_side.__name__ = name.replace("-", "_")
    return _ExpertaRule(*patterns, salience=salience)(right_hand_side)
