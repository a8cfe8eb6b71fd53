"""The logic of `when` against brute force: every assignment of answers to three names, "not known" among them."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.knowledge.model import Condition, Conditions
from nopost.linting.reachability import can_hold, follows, obstacle

NAMES, ANSWERS = ("a", "b", "c"), ("x", "y", "z")
POSSIBLE = {(False, name): frozenset(ANSWERS) for name in NAMES}
values = st.lists(st.sampled_from(ANSWERS), min_size=1, max_size=3, unique=True).map(tuple)
condition = st.builds(Condition, st.just(False), st.sampled_from(NAMES), values)
conditions = st.builds(Conditions, st.lists(condition, max_size=3).map(tuple), st.lists(condition, max_size=2).map(tuple))


WORLDS = [
    {name: answer for name, answer in zip(NAMES, answers, strict=True) if answer}
    for answers in product((*ANSWERS, None), repeat=len(NAMES))
]
"""Every way to answer or not to answer."""


@pytest.mark.slow
@given(conditions)
def test_can_hold(when: Conditions) -> None:
    """There is a world in which it holds; and when there is none, the reason is told, with its place."""
    possible = any(when.hold(world, {}) for world in WORLDS)
    assert can_hold(when, POSSIBLE) == possible
    found = obstacle(when, POSSIBLE)
    assert (found is None) == possible
    if found:
        _, key, index = found[0]
        assert key == "all"
        assert when.all[int(index)].name in found[1]


@pytest.mark.slow
@given(conditions, conditions)
def test_follows(weaker: Conditions, stronger: Conditions) -> None:
    """In every world in which the stronger holds, the weaker does. One that never holds implies anything: left out."""
    holding = [world for world in WORLDS if stronger.hold(world, {})]
    if holding:
        assert follows(weaker, stronger) == all(weaker.hold(world, {}) for world in holding)


def test_facts_and_findings_of_one_name_are_two_things() -> None:
    """A fact has no answer of the finding that is called like it."""
    when = Conditions((Condition(True, "a", ("x",)),))
    assert not can_hold(when, POSSIBLE)
    assert can_hold(when, {(True, "a"): frozenset("x")})
