"""The logic of `when`: what can hold, what follows from what, and what can hold together.

A finding or fact has one value at a time, or none. So conditions are sets of values, name by name, and each question
here is answered exactly by comparing sets, given which values each name can have.
"""

from __future__ import annotations

from collections.abc import Mapping

from nopost.knowledge.model import Condition, Conditions
from nopost.knowledge.yaml_file import Path_

Name = tuple[bool, str]
"""Whether it is a fact of the records, and its id."""
Values = frozenset[str]
NOTHING: Values = frozenset()


def wanted(when: Conditions) -> dict[Name, Values]:
    """Each name of `all` with the values that satisfy it, those that `none` forbids taken out."""
    found: dict[Name, Values] = {}
    for condition in when.all:
        name, values = _entry(condition)
        found[name] = found[name] & values if name in found else values
    banned = forbidden(when)
    return {name: values - banned.get(name, NOTHING) for name, values in found.items()}


def forbidden(when: Conditions) -> dict[Name, Values]:
    """Each name of `none` with its values."""
    found: dict[Name, Values] = {}
    for condition in when.none:
        name, values = _entry(condition)
        found[name] = found.get(name, NOTHING) | values
    return found


def both(one: Conditions, other: Conditions) -> Conditions:
    """What holds when both hold."""
    return Conditions((*one.all, *other.all), (*one.none, *other.none))


def can_hold(when: Conditions, possible: Mapping[Name, Values]) -> bool:
    """Whether some answers satisfy it."""
    return all(values & possible.get(name, NOTHING) for name, values in wanted(when).items())


def follows(weaker: Conditions, stronger: Conditions) -> bool:
    """Whether the weaker holds whenever the stronger does."""
    has, banned = wanted(stronger), forbidden(stronger)
    if not all(name in has and has[name] <= values for name, values in wanted_alone(weaker).items()):
        return False
    for name, values in forbidden(weaker).items():
        never = (name in has and not has[name] & values) or values <= banned.get(name, NOTHING)
        if not never:
            return False
    return True


def wanted_alone(when: Conditions) -> dict[Name, Values]:
    """Each name of `all` with its values, whatever `none` says."""
    return wanted(Conditions(when.all))


def obstacle(when: Conditions, possible: Mapping[Name, Values]) -> tuple[Path_, str] | None:
    """Why it can never hold, with the place; None when it can."""
    satisfied = wanted(when)
    for index, condition in enumerate(when.all):
        name, values = _entry(condition)
        if not values & possible.get(name, NOTHING):
            return ("when", "all", index), f"nothing ever makes {condition.name} {' or '.join(condition.values)}"
        if not satisfied[name]:
            return ("when", "all", index), f"the conditions on {condition.name} exclude each other"
        if not satisfied[name] & possible[name]:
            return ("when", "all", index), f"what is left of {condition.name} never happens"
    return None


def _entry(condition: Condition) -> tuple[Name, Values]:
    return (condition.of_fact, condition.name), frozenset(condition.values)
