"""The reviewer's page on two editions: what changed, which cases come out otherwise, how repairs move. Markdown, HTML or JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from nopost.evaluation.case_files import CaseResult
from nopost.evaluation.cross_evaluation import NEW, CrossEvaluation
from nopost.evaluation.edition_changes import CaseComparison, ItemChange, ValueChange
from nopost.knowledge.model import Knowledge
from nopost.render.documents import html_document, markdown_document

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
    def title(self) -> str:
        """What is compared."""
        return f"{self.new.base.name}: edition {self.old.base.edition} and edition {self.new.base.edition}"


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
        "old": _edition(found.old),
        "new": _edition(found.new),
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


def _edition(knowledge: Knowledge) -> dict[str, str]:
    return {"name": knowledge.base.name, "edition": knowledge.base.edition, "digest": knowledge.digest}


def _case_data(result: CaseResult | None) -> dict[str, Any] | None:
    return None if result is None else {"met": result.met, "rank": result.rank, "next_step": result.next_step}


def _summary_lines(found: EditionComparison) -> Iterator[str]:
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
