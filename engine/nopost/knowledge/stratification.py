"""Put rules into layers so that 'none' asks only about what is settled in an earlier layer (stratified negation)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from nopost.knowledge.effects import Effect
from nopost.knowledge.model import Condition, Rule


class CycleError(Exception):
    """Rules that depend on their own absence."""

    def __init__(self, rules: tuple[str, ...]) -> None:
        super().__init__(" → ".join(rules))
        self.rules = rules


def rule_layers(rules: Mapping[str, Rule]) -> dict[str, int]:
    """Rule id -> layer. A rule stands above every rule that derives what its 'none' asks about, and not below one that
    derives what its 'all' asks about. Raises CycleError."""
    makers: dict[str, list[str]] = {}
    for rule in rules.values():
        for consequence in rule.then:
            if consequence.effect is Effect.DERIVE:
                makers.setdefault(consequence.target, []).append(rule.id)
    layer = dict.fromkeys(rules, 0)
    for _ in range(len(rules) + 1):
        if not _raise_layers(rules, makers, layer):
            return layer
    raise CycleError(_cycle(rules, makers))


def _raise_layers(rules: Mapping[str, Rule], makers: Mapping[str, list[str]], layer: dict[str, int]) -> bool:
    """One pass; whether some rule had to move up."""
    moved = False
    for rule in rules.values():
        needed = layer[rule.id]
        for conditions, step in ((rule.when.all, 0), (rule.when.none, 1)):
            for condition in conditions:
                if not condition.of_fact:
                    needed = max([needed, *(layer[maker] + step for maker in makers.get(condition.name, ()))])
        if needed > layer[rule.id]:
            layer[rule.id] = needed
            moved = True
    return moved


def _cycle(rules: Mapping[str, Rule], makers: Mapping[str, list[str]]) -> tuple[str, ...]:
    """A rule, what its 'none' depends on, and so on back to the rule itself."""
    for rule in rules.values():
        for maker in _makers_of(rule.when.none, makers):
            way = _shortest_chain(rules, makers, maker, rule.id)
            if way:
                return (rule.id, *way)
    raise AssertionError("layers rise for ever only round a cycle")


def _makers_of(conditions: Iterable[Condition], makers: Mapping[str, list[str]]) -> list[str]:
    return [maker for c in conditions if not c.of_fact for maker in makers.get(c.name, ())]


def _shortest_chain(rules: Mapping[str, Rule], makers: Mapping[str, list[str]], start: str, goal: str) -> tuple[str, ...]:
    """The shortest chain of dependencies from one rule to another; empty when there is none."""
    ways: dict[str, tuple[str, ...]] = {start: (start,)}
    queue = [start]
    for rule in queue:
        if rule == goal:
            return ways[rule]
        for maker in _makers_of(rules[rule].when, makers):
            if maker not in ways:
                ways[maker] = (*ways[rule], maker)
                queue.append(maker)
    return ()
