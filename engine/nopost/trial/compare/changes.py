"""What differs between two knowledge bases, item by item and value by value."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from nopost.knowledge.kinds import KINDS
from nopost.knowledge.model import Knowledge

BASE = "base"


@dataclass(frozen=True, slots=True)
class Value:
    """One value that differs, by its place in the item; None: it is not there."""

    place: str
    old: Any
    new: Any

    @property
    def is_number(self) -> bool:
        """Whether a number became another one."""
        return all(isinstance(each, int | float) and not isinstance(each, bool) for each in (self.old, self.new))


@dataclass(frozen=True, slots=True)
class Change:
    """An item that was added, removed or changed. `kind`: its folder, or base."""

    kind: str
    item: str
    title: str
    what: str
    values: tuple[Value, ...] = ()


def changes(old: Knowledge, new: Knowledge) -> list[Change]:
    """All changes, in order of kind and id."""
    found = list(_changed(BASE, BASE, old.base, new.base))
    for kind in KINDS:
        before, after = getattr(old, kind), getattr(new, kind)
        for name in sorted({*before, *after}):
            if name not in after:
                found.append(Change(kind, name, title_of(before[name]), "removed"))
            elif name not in before:
                found.append(Change(kind, name, title_of(after[name]), "added"))
            else:
                found += _changed(kind, name, before[name], after[name])
    return found


def title_of(item: Any) -> str:
    """Its title, or what stands for one."""
    return str(getattr(item, "title", "") or getattr(item, "because", "") or "")


def _changed(kind: str, name: str, old: Any, new: Any) -> Iterator[Change]:
    before, after = dict(_flat(old)), dict(_flat(new))
    places = [*before, *(place for place in after if place not in before)]
    values = tuple(Value(p, before.get(p), after.get(p)) for p in places if before.get(p) != after.get(p))
    if values:
        yield Change(kind, name, title_of(new), "changed", values)


def _flat(value: Any, place: str = "") -> Iterator[tuple[str, Any]]:
    """Every single value with its place: `shows.lamp.dark`."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        value = {f.name: getattr(value, f.name) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        for key, each in value.items():
            yield from _flat(each, f"{place}.{key}" if place else str(key))
    elif isinstance(value, tuple | list):
        for number, each in enumerate(value, 1):
            key = getattr(each, "id", None) or str(number)
            yield from _flat(each, f"{place}.{key}" if place else key)
    else:
        yield place, value
