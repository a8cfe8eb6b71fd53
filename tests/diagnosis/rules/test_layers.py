"""Layers of rules: 'none' asks only about what is settled, and rules in a circle through 'none' are refused."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import event, given, settings

from diagnosis.rules import oracle
from diagnosis.rules.oracle import derive, rule, seen
from nopost.diagnosis.rules.engine import RuleEngine, firing_order
from nopost.knowledge.effects import Effect
from nopost.knowledge.model import Knowledge, Rule
from nopost.knowledge.stratification import CycleError, rule_layers

Edges = dict[str, set[tuple[str, int]]]


def edges(rules: dict[str, Rule]) -> Edges:
    """Rule -> (rule that derives what it asks about, 1 when asked by 'none')."""
    result: Edges = {name: set() for name in rules}
    for name, asking in rules.items():
        for step, conditions in enumerate((asking.when.all, asking.when.none)):
            asked = {c.name for c in conditions if not c.of_fact}
            for maker in rules.values():
                if any(c.effect is Effect.DERIVE and c.target in asked for c in maker.then):
                    result[name].add((maker.id, step))
    return result


def reach(graph: Edges, start: str) -> set[str]:
    """All rules that this one depends on."""
    found: set[str] = set()
    waiting = [start]
    while waiting:
        fresh = {maker for maker, _ in graph[waiting.pop()]} - found
        found |= fresh
        waiting += sorted(fresh)
    return found


@pytest.mark.slow
@settings(max_examples=200)
@given(oracle.rule_sets(most=7, tame=False))
def test_layers_or_a_circle(rules: dict[str, Rule]) -> None:
    """CycleError if and only if a rule asks by 'none' for what depends on it; else the layers are the lowest that do."""
    graph = edges(rules)
    circle = any(step and (maker == name or name in reach(graph, maker)) for name, out in graph.items() for maker, step in out)
    event("circle" if circle else "layers")
    if circle:
        with pytest.raises(CycleError) as raised:
            rule_layers(rules)
        assert set(raised.value.rules) <= set(rules)
        with pytest.raises(CycleError):
            RuleEngine(rules)
        return
    layers = rule_layers(rules)
    for name, out in graph.items():
        needed = [layers[maker] + step for maker, step in out]
        assert layers[name] >= max(needed, default=0)
        # A rule in a circle without 'none' is held up by its fellows; every other one by what it asks.
        assert layers[name] == max(needed, default=0) or name in reach(graph, name)


def test_layers_by_hand() -> None:
    """Two rules on what is seen, one on what they lead to, one on its absence, one above that."""
    rules = {
        r.id: r
        for r in (
            rule("e", [seen("f0", "a")], [seen("g2", "a")], [derive("g3", "a")]),
            rule("d", [seen("f0", "a")], [seen("g1", "a")], [derive("g2", "a")]),
            rule("c", [seen("g0", "a")], [], [derive("g1", "a")]),
            rule("b", [seen("f1", "a")], [], [derive("g0", "a")]),
            rule("a", [seen("f0", "a")], [seen("f1", "b")], [derive("g0", "b")]),
        )
    }
    assert rule_layers(rules) == {"a": 0, "b": 0, "c": 0, "d": 1, "e": 2}
    assert [r.id for r in firing_order(rules)] == ["a", "b", "c", "d", "e"]


def test_none_is_asked_after_a_later_letter() -> None:
    """A rule that derives comes first even when its name comes last."""
    rules = {
        "a": rule("a", [seen("f0", "a")], [seen("g0", "b")], [derive("g1", "a")]),
        "z": rule("z", [seen("f0", "a")], [], [derive("g0", "b")]),
    }
    assert [f.rule for f in RuleEngine(rules).run({"f0": "a"}, {}).firings] == ["z"]


@pytest.mark.parametrize("middle", [(), ("g1",), ("g1", "g2", "g3")])
def test_circle_is_named(middle: tuple[str, ...]) -> None:
    """The error names a chain of rules that comes back to where it began."""
    stations = ("g0", *middle, "g4")
    steps = itertools.pairwise(stations)
    rules = {f"r{k}": rule(f"r{k}", [seen(a, "a")], [], [derive(b, "a")]) for k, (a, b) in enumerate(steps)}
    rules["back"] = rule("back", [seen("f0", "a")], [seen("g4", "a")], [derive("g0", "a")])
    with pytest.raises(CycleError) as raised:
        rule_layers(rules)
    assert raised.value.rules[0] == raised.value.rules[-1]
    assert set(raised.value.rules) == set(rules)


def test_circle_without_none_is_fine() -> None:
    """Two rules that lead to each other are only an echo."""
    rules = {
        "a": rule("a", [seen("g0", "a")], [], [derive("g1", "a")]),
        "b": rule("b", [seen("g1", "a")], [], [derive("g0", "a")]),
    }
    assert rule_layers(rules) == {"a": 0, "b": 0}
    outcome = RuleEngine(rules).run({"g1": "a"}, {})
    assert [f.rule for f in outcome.firings] == ["b", "a"]
    assert outcome.contradictions == ()


def test_shipped_rules_have_layers(knowledge: Knowledge) -> None:
    """Every shipped rule stands above what its 'none' asks about."""
    layers = rule_layers(knowledge.rules)
    for name, out in edges(dict(knowledge.rules)).items():
        assert all(layers[name] >= layers[maker] + step for maker, step in out)
