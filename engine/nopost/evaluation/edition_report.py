"""The reviewer's page on two editions: what changed, which cases come out otherwise, how repairs move. Markdown, HTML or JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from nopost.evaluation.case_results import CaseResult
from nopost.evaluation.cross_evaluation import NEW, CrossEvaluation
from nopost.evaluation.edition_changes import CaseComparison, ItemChange, ValueChange
from nopost.knowledge.model import Knowledge
from nopost.render.page import escaped_markdown, html_page, sections_html

MAX_VALUES = 12
"""So many values of one item are shown."""
MAX_TEXT = 60
"""Characters of a text that is shown."""


@dataclass(frozen=True)
class EditionComparison:
    """All that stands on the page."""

    old: Knowledge
    new: Knowledge
    changes: Sequence[ItemChange]
    flips: Sequence[CaseComparison]
    worlds: Sequence[CrossEvaluation] = ()

    @property
    def title(self) -> str:
        """What is compared."""
        return f"{self.new.base.name}: edition {self.old.base.edition} and edition {self.new.base.edition}"


def comparison_sections(found: EditionComparison) -> list[tuple[str, list[str]]]:
    """(title, lines) of the page."""
    return [
        ("In short", list(_summary_lines(found))),
        ("What a repair takes", list(_repair_lines(found)) or ["Not simulated."]),
        ("Cases that come out otherwise", list(_case_lines(found.flips)) or ["None."]),
        ("What changed", [line for change in found.changes for line in _change_lines(change)] or ["Nothing."]),
    ]


def markdown_comparison(found: EditionComparison) -> str:
    """As Markdown."""
    parts = [f"# {escaped_markdown(found.title)}"]
    for title, lines in comparison_sections(found):
        parts.append(f"\n## {escaped_markdown(title)}\n")
        parts += [f"* {escaped_markdown(line)}" for line in lines]
    return "\n".join(parts) + "\n"


def html_comparison(found: EditionComparison) -> str:
    """As one HTML page."""
    return html_page(found.title, sections_html(comparison_sections(found)))


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
            {"case": flip.case, "verdict": flip.verdict, "old": _case_data(flip.old), "new": _case_data(flip.new)}
            for flip in found.flips
        ],
        "worlds": [
            {
                "right": w.right,
                "machines": w.machines,
                "repaired": {"old": w.repaired_old, "new": w.repaired_new},
                **{name: [e.value, e.margin] for name, e in _estimates(w)},
            }
            for w in found.worlds
        ],
    }


def _estimates(world: CrossEvaluation) -> tuple[tuple[str, Any], ...]:
    return ("old", world.old), ("new", world.new), ("difference", world.difference), ("quotient", world.quotient)


def _edition(knowledge: Knowledge) -> dict[str, str]:
    return {"name": knowledge.base.name, "edition": knowledge.base.edition, "digest": knowledge.digest}


def _case_data(trial: CaseResult | None) -> dict[str, Any] | None:
    return None if trial is None else {"met": trial.met, "rank": trial.rank, "next_step": trial.next_step}


def _summary_lines(found: EditionComparison) -> Iterator[str]:
    for what in ("added", "removed", "changed"):
        items = [c for c in found.changes if c.what == what]
        if items:
            kinds = {c.kind: sum(each.kind == c.kind for each in items) for c in items}
            yield f"{what}: {', '.join(f'{kind} {count}' for kind, count in kinds.items())}"
    verdicts = [flip.verdict for flip in found.flips]
    told = [f"{verdicts.count(v)} {v}" for v in ("better", "worse", "moved", "same", "not in old", "not in new") if v in verdicts]
    yield f"{len(verdicts)} case{'s' * (len(verdicts) != 1)}: {', '.join(told) or 'none'}"


def _repair_lines(found: EditionComparison) -> Iterator[str]:
    for world in found.worlds:
        right = found.new if world.right == NEW else found.old
        yield (
            f"If edition {right.base.edition} ({world.right}) is right, on {world.machines} machines: the new advice takes "
            f"{_interval(world.quotient)} times the effort of the old one ({_interval(world.old)} before, "
            f"{_interval(world.new)} now, in units of money); mended without the shop: {100 * world.repaired_old:.0f} % before, "
            f"{100 * world.repaired_new:.0f} % now."
        )


def _interval(estimate: Any) -> str:
    if estimate.margin is None:
        return f"{estimate.value:.3g}"
    least = max(0.0, estimate.value - estimate.margin)  # an effort is never below nothing, however few machines tell it
    return f"{estimate.value:.3g} ({least:.3g} to {estimate.value + estimate.margin:.3g})"


def _case_lines(flips: Sequence[CaseComparison]) -> Iterator[str]:
    for verdict in ("worse", "better", "moved", "not in new"):
        for flip in flips:
            if flip.verdict == verdict and (flip.old or flip.new):
                yield f"{verdict}: {flip.case}: {_outcome(flip.old)} → {_outcome(flip.new)}"


def _outcome(trial: CaseResult | None) -> str:
    if trial is None:
        return "not known there"
    return f"{'as expected' if trial.met else 'missed'}, cause at place {trial.rank or '-'}, next {trial.next_step}"


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
