"""Two editions of a knowledge base side by side: what changed, item by item and number by number, which cases come out
otherwise, and the report of it for a reviewer.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from nopost.diagnosis.diagnose import Diagnostician
from nopost.errors import UnknownNameError
from nopost.evaluation.case_files import CaseResult, evaluate_case, name_problems
from nopost.evaluation.cross_evaluation import NEW, CrossEvaluation
from nopost.knowledge.build import KINDS
from nopost.knowledge.model import Case, Knowledge
from nopost.render.documents import html_document, markdown_document

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


MAX_VALUES = 12
"""So many values of one item are shown."""
MAX_TEXT = 60
"""Characters of a text that is shown."""


@dataclass(frozen=True)
class EditionComparison:
    """All that stands on the page. `cases`: each under both editions; `cross_evaluations`: empty when nothing was simulated."""

    old: Knowledge
    new: Knowledge
    changes: Sequence[ItemChange]
    cases: Sequence[CaseComparison]
    cross_evaluations: Sequence[CrossEvaluation] = ()

    @property
    def same_files(self) -> bool:
        """Whether both are the same to the byte."""
        return same_files(self.old, self.new)

    @property
    def title(self) -> str:
        """What is compared."""
        return f"{self.new.base.name}: edition {self.old.base.edition} and edition {self.new.base.edition}"


def same_files(old: Knowledge, new: Knowledge) -> bool:
    """Whether two knowledge bases are the same to the byte: then nothing comes out otherwise, and nothing need be run."""
    return bool(old.digest) and old.digest == new.digest


def comparison_sections(found: EditionComparison) -> list[tuple[str, list[str]]]:
    """(title, lines) of the page."""
    return [
        ("In short", list(_summary_lines(found))),
        ("What a repair takes", list(_repair_lines(found)) or ["Not simulated."]),
        ("Cases that come out otherwise", list(_case_lines(found.cases)) or ["None."]),
        ("What changed", [line for change in found.changes for line in _change_lines(change)] or ["Nothing."]),
    ]


def markdown_comparison(found: EditionComparison) -> str:
    """As Markdown."""
    return markdown_document("comparison.md", title=found.title, sections=comparison_sections(found))


def html_comparison(found: EditionComparison) -> str:
    """As one HTML page."""
    return html_document("sections.html", title=found.title, sections=comparison_sections(found))


def comparison_data(found: EditionComparison) -> dict[str, Any]:
    """For --json; estimates are [value, half the width of the 95 % interval]."""
    return {
        "old": found.old.identity,
        "new": found.new.identity,
        "changes": [
            {
                "kind": change.kind,
                "item": change.item,
                "what": change.what,
                "values": [{"place": v.place, "old": v.old, "new": v.new} for v in change.values],
            }
            for change in found.changes
        ],
        "cases": [
            {"case": case.case, "verdict": case.verdict, "old": _case_data(case.old), "new": _case_data(case.new)}
            for case in found.cases
        ],
        "worlds": [
            {
                "right": w.right,
                "machines": w.machines,
                "repaired": {"old": w.repaired_old, "new": w.repaired_new},
                **{name: [e.value, e.margin] for name, e in _estimates(w)},
            }
            for w in found.cross_evaluations
        ],
    }


def _estimates(evaluation: CrossEvaluation) -> tuple[tuple[str, Any], ...]:
    return ("old", evaluation.old), ("new", evaluation.new), ("difference", evaluation.difference), ("quotient", evaluation.ratio)


def _case_data(result: CaseResult | None) -> dict[str, Any] | None:
    return None if result is None else {"met": result.met, "rank": result.rank, "next_step": result.next_step}


def _summary_lines(found: EditionComparison) -> Iterator[str]:
    if found.same_files:
        yield "Both have the same files, so nothing was run: every case and every repair comes out the same."
        return
    for what in ("added", "removed", "changed"):
        items = [c for c in found.changes if c.what == what]
        if items:
            kinds = {c.kind: sum(each.kind == c.kind for each in items) for c in items}
            yield f"{what}: {', '.join(f'{kind} {count}' for kind, count in kinds.items())}"
    verdicts = [case.verdict for case in found.cases]
    told = [f"{verdicts.count(v)} {v}" for v in ("better", "worse", "moved", "same", "not in old", "not in new") if v in verdicts]
    yield f"{len(verdicts)} case{'s' * (len(verdicts) != 1)}: {', '.join(told) or 'none'}"


def _repair_lines(found: EditionComparison) -> Iterator[str]:
    for each in found.cross_evaluations:
        right = found.new if each.right == NEW else found.old
        yield (
            f"If edition {right.base.edition} ({each.right}) is right, on {each.machines} machines: the new advice takes "
            f"{_interval(each.ratio)} times the effort of the old one ({_interval(each.old)} before, "
            f"{_interval(each.new)} now, in units of money); mended without the shop: {100 * each.repaired_old:.0f} % before, "
            f"{100 * each.repaired_new:.0f} % now."
        )


def _interval(estimate: Any) -> str:
    if estimate.margin is None:
        return f"{estimate.value:.3g}"
    least = max(0.0, estimate.value - estimate.margin)  # an effort is never below nothing, however few machines tell it
    return f"{estimate.value:.3g} ({least:.3g} to {estimate.value + estimate.margin:.3g})"


def _case_lines(cases: Sequence[CaseComparison]) -> Iterator[str]:
    for verdict in ("worse", "better", "moved", "not in new"):
        for case in cases:
            if case.verdict == verdict and (case.old or case.new):
                yield f"{verdict}: {case.case}: {_outcome(case.old)} → {_outcome(case.new)}"


def _outcome(result: CaseResult | None) -> str:
    if result is None:
        return "not known there"
    return f"{'as expected' if result.met else 'missed'}, cause at place {result.rank or '-'}, next {result.next_step}"


def _change_lines(change: ItemChange) -> Iterator[str]:
    title = f" ({change.title})" if change.title else ""
    if change.what != "changed":
        yield f"{change.what}: {change.kind}/{change.item}{title}"
        return
    shown = "; ".join(_value(value) for value in change.values[:MAX_VALUES])
    more = f"; and {len(change.values) - MAX_VALUES} more" if len(change.values) > MAX_VALUES else ""
    yield f"changed: {change.kind}/{change.item}: {shown}{more}"


def _value(value: ValueChange) -> str:
    if value.is_number:
        factor = f" (× {value.new / value.old:.2g})" if value.old else ""
        return f"{value.place} {value.old:g} → {value.new:g}{factor}"
    if isinstance(value.old, str) and isinstance(value.new, str) and max(len(value.old), len(value.new)) > MAX_TEXT:
        return f"{value.place}: text changed"
    return f"{value.place} {_short_text(value.old)} → {_short_text(value.new)}"


def _short_text(value: Any) -> str:
    if value is None:
        return "(not there)"
    text = str(value)
    return text if len(text) <= MAX_TEXT else f"{text[:MAX_TEXT]}…"
