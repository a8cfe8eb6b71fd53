"""Compile the rules of a knowledge base once, then run them as a pure function of answers and facts."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from typing import Any

from nopost.diagnosis.rules.adapter import Engine, make_rule
from nopost.diagnosis.rules.effects import RuleRun
from nopost.diagnosis.rules.inference import Inference, Pair
from nopost.knowledge.model import Condition, Rule
from nopost.knowledge.stratification import rule_layers


def firing_order(rules: Mapping[str, Rule]) -> list[Rule]:
    """The rules by layer, then id: of those that could fire, the first in this list does."""
    layers = rule_layers(rules)
    return sorted(rules.values(), key=lambda rule: (layers[rule.id], rule.id))


class RuleEngine:
    """The rules of one knowledge base in an experta network. No result is kept between calls; not for two threads at once."""

    def __init__(self, rules: Mapping[str, Rule]) -> None:
        ordered = firing_order(rules)
        # Unique salience per experta rule: with equal ones experta 1.9.4 fires rules that were cancelled.
        cells = [(rule, present) for rule in ordered for present in _ground(rule.when.all)]
        self._engine = Engine([_compile(rule, present, len(cells) - i) for i, (rule, present) in enumerate(cells)])
        self._rules = rules

    def run(self, answers: Mapping[str, str], facts: Mapping[str, str]) -> Inference:
        """All that follows from these answers (finding -> answer) and facts of the records (fact -> value)."""
        run = RuleRun(answers, facts)

        def fired(rule: str) -> list[Pair]:
            return [(f"finding {name}", value) for name, value in run.fire(self._rules[rule])]

        known = [(f"finding {name}", value) for name, value in answers.items()]
        self._engine.infer(known + [(f"fact {name}", value) for name, value in facts.items()], fired)
        return run.inference()


def _compile(rule: Rule, present: tuple[Pair, ...], salience: int) -> Any:
    absent = [_literal(c, value) for c in rule.when.none for value in c.values]
    return make_rule(rule.id, salience, present, absent)


def _literal(condition: Condition, value: str) -> Pair:
    return ("fact " if condition.of_fact else "finding ") + condition.name, value


def _ground(conditions: tuple[Condition, ...]) -> Iterator[tuple[Pair, ...]]:
    """Each way to choose one value per condition. A name has one value at a time, so at most one of them matches."""
    yield from itertools.product(*([_literal(c, value) for value in c.values] for c in conditions))
