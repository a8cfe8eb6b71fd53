"""What differs between two editions of a knowledge base: item by item, value by value, and which cases come out otherwise."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from nopost.diagnosis.diagnose import Diagnostician
from nopost.errors import UnknownNameError
from nopost.evaluation.case_files import CaseResult, evaluate_case, name_problems
from nopost.knowledge.build import KINDS
from nopost.knowledge.model import Case, Knowledge

BASE = "base"


@dataclass(frozen=True, slots=True)
class ValueChange:
    """One value that differs, by its place in the item; None: it is not there."""

    place: str
    old: Any
    new: Any

    @property
    def is_number(self) -> bool:
        """Whether a number became another one."""
        return all(isinstance(each, int | float) and not isinstance(each, bool) for each in (self.old, self.new))


@dataclass(frozen=True, slots=True)
class ItemChange:
    """An item that was added, removed or changed. `kind`: its folder, or base."""

    kind: str
    item: str
    title: str
    what: str
    values: tuple[ValueChange, ...] = ()


def item_changes(old: Knowledge, new: Knowledge) -> list[ItemChange]:
    """All changes, in order of kind and id."""
    found = list(_item_change(BASE, BASE, old.base, new.base))
    for kind in KINDS:
        before, after = getattr(old, kind), getattr(new, kind)
        for name in sorted({*before, *after}):
            if name not in after:
                found.append(ItemChange(kind, name, title_of(before[name]), "removed"))
            elif name not in before:
                found.append(ItemChange(kind, name, title_of(after[name]), "added"))
            else:
                found += _item_change(kind, name, before[name], after[name])
    return found


def title_of(item: Any) -> str:
    """Its title, or what stands for one."""
    return str(getattr(item, "title", "") or getattr(item, "because", "") or "")


def _item_change(kind: str, name: str, old: Any, new: Any) -> Iterator[ItemChange]:
    before, after = dict(_flattened(old)), dict(_flattened(new))
    places = [*before, *(place for place in after if place not in before)]
    values = tuple(ValueChange(p, before.get(p), after.get(p)) for p in places if before.get(p) != after.get(p))
    if values:
        yield ItemChange(kind, name, title_of(new), "changed", values)


def _flattened(value: Any, place: str = "") -> Iterator[tuple[str, Any]]:
    """Every single value with its place: `shows.lamp.dark`."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        value = {f.name: getattr(value, f.name) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        for key, each in value.items():
            yield from _flattened(each, f"{place}.{key}" if place else str(key))
    elif isinstance(value, tuple | list):
        for number, each in enumerate(value, 1):
            key = getattr(each, "id", None) or str(number)
            yield from _flattened(each, f"{place}.{key}" if place else key)
    else:
        yield place, value


@dataclass(frozen=True, slots=True)
class CaseComparison:
    """A case under both editions; None where its names are not known there."""

    case: str
    old: CaseResult | None
    new: CaseResult | None

    @property
    def verdict(self) -> str:
        """better, worse, moved, same, or not in old / not in new."""
        if self.old is None or self.new is None:
            return "not in old" if self.old is None else "not in new"
        if self.old.met != self.new.met:
            return "better" if self.new.met else "worse"
        return "same" if (self.old.rank, self.old.next_step) == (self.new.rank, self.new.next_step) else "moved"


def compare_cases(old: Diagnostician, new: Diagnostician, cases: Iterable[Case]) -> list[CaseComparison]:
    """Each case under both editions."""
    return [CaseComparison(case.id, _case_result(old, case), _case_result(new, case)) for case in cases]


def all_cases(old: Knowledge, new: Knowledge, more: Iterable[Case] = ()) -> list[Case]:
    """The cases of both editions and more; the new edition's of one name counts."""
    found: Mapping[str, Case] = {**old.cases, **new.cases, **{case.id: case for case in more}}
    return [found[name] for name in sorted(found)]


def _case_result(diagnostician: Diagnostician, case: Case) -> CaseResult | None:
    try:
        return None if any(name_problems(case, diagnostician.knowledge)) else evaluate_case(diagnostician, case)
    except UnknownNameError:
        return None
