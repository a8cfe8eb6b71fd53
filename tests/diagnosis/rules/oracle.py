"""The rules in a dozen lines of plain Python, and random rules: what experta must do, neither more nor less."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache

from hypothesis import strategies as st

from nopost.diagnosis.rules.engine import Inference, RuleRun, firing_order
from nopost.knowledge.effects import Effect
from nopost.knowledge.model import Condition, Conditions, Consequence, Rule

SEEN = ("f0", "f1", "f2", "f3")
"""Findings that no random rule derives."""
LATER = ("g0", "g1", "g2", "g3", "g4")
"""Findings that random rules derive; the tame ones only from earlier to later."""
FACTS = ("k0", "k1")
VALUES = ("a", "b", "c")
MILD = (
    Effect.RULE_OUT,
    Effect.CAUTION,
    Effect.KEEP_UNPOWERED,
    Effect.OPEN_QUESTION,
    Effect.CLOSE_QUESTION,
    Effect.OPEN_ACTION,
    Effect.DO_FIRST,
    Effect.CLOSE_ACTION,
)


def run(rules: Mapping[str, Rule], answers: Mapping[str, str], facts: Mapping[str, str]) -> Inference:
    """As long as a rule holds that has not fired: fire the first one."""
    return run_in_order(firing_order(rules), answers, facts)


def run_in_order(rules: Sequence[Rule], answers: Mapping[str, str], facts: Mapping[str, str]) -> Inference:
    """The same with rules that are in firing order."""
    run = RuleRun(answers, facts)
    waiting = list(rules)
    while True:
        known = run.inference().answers()
        rule = next((r for r in waiting if r.when.hold(known, facts)), None)
        if rule is None:
            return run.inference()
        waiting.remove(rule)
        run.fire(rule)


def rule(name: str, all_: Sequence[Condition], none: Sequence[Condition], then: Sequence[Consequence]) -> Rule:
    """A rule."""
    return Rule(name, name, Conditions(tuple(all_), tuple(none)), tuple(then))


def seen(name: str, *values: str) -> Condition:
    """A finding has one of these answers."""
    return Condition(False, name, values)


def derive(name: str, answer: str) -> Consequence:
    """A finding has this answer."""
    return Consequence(Effect.DERIVE, name, answer=answer)


@cache
def conditions(names: tuple[str, ...], least: int, most: int) -> st.SearchStrategy[list[Condition]]:
    """Some conditions on these findings or on the facts. Made once: making a strategy takes longer than drawing from it."""
    values = st.lists(st.sampled_from(VALUES), min_size=1, max_size=2, unique=True).map(tuple)
    finding = st.builds(Condition, st.just(False), st.sampled_from(names), values)
    fact = st.builds(Condition, st.just(True), st.sampled_from(FACTS), values)
    return st.lists(st.one_of(finding, finding, finding, fact), min_size=least, max_size=most)


NAMES = st.text("pqrst-", min_size=1, max_size=4)
PLACES = st.lists(st.integers(0, len(LATER) - 1), max_size=2)
VALUE = st.sampled_from(VALUES)
EFFECT = st.sampled_from(MILD)
TARGET = st.sampled_from(("x", "y"))
DECIBANS = st.sampled_from((-3.0, 2.0))


@st.composite
def rule_sets(draw: st.DrawFn, least: int = 2, most: int = 20, tame: bool = True) -> dict[str, Rule]:
    """Random rules. Tame ones lead from earlier findings to later ones, so that they never run in a circle."""
    result = {}
    # Drawn names: the alphabet and not the order of the list decides between two rules of a layer.
    for name in draw(st.lists(NAMES, min_size=least, max_size=most, unique=True)):
        places = draw(PLACES)
        first = min(places, default=len(LATER)) if tame else len(LATER)
        all_ = draw(conditions(SEEN + LATER[: first + 1], 1, 3))
        none = draw(conditions(SEEN + LATER[:first], 0, 2))
        then = [derive(LATER[place], draw(VALUE)) for place in places]
        if draw(st.booleans()) or not then:
            then.append(Consequence(draw(EFFECT), draw(TARGET)))
        if draw(st.booleans()):
            then.append(Consequence(Effect.WEIGH, "x", decibans=draw(DECIBANS)))
        result[name] = rule(name, all_, none, then)
    return result


def answer_sets() -> st.SearchStrategy[dict[str, str]]:
    """Random answers; sometimes also to a finding that a rule derives."""
    return st.dictionaries(st.sampled_from(SEEN + SEEN + LATER), st.sampled_from(VALUES), max_size=7)


def fact_sets() -> st.SearchStrategy[dict[str, str]]:
    """Random facts of the records."""
    return st.dictionaries(st.sampled_from(FACTS), st.sampled_from(VALUES))
