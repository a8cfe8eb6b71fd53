"""The reviewer's one page: what changed, which cases flip, how repairs move. Markdown or HTML."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from nopost.knowledge.model import Knowledge
from nopost.page import html_page, markdown, sections_html
from nopost.trial.case_trial import Trial
from nopost.trial.compare.changes import Change, Value
from nopost.trial.compare.crossplay import NEW, World
from nopost.trial.compare.flips import Flip

MOST = 12
"""So many values of one item are shown."""
LONGEST = 60
"""Characters of a text that is shown."""


@dataclass(frozen=True)
class Comparison:
    """All that stands on the page."""

    old: Knowledge
    new: Knowledge
    changes: Sequence[Change]
    flips: Sequence[Flip]
    worlds: Sequence[World] = ()

    @property
    def title(self) -> str:
        """What is compared."""
        return f"{self.new.base.name}: edition {self.old.base.edition} and edition {self.new.base.edition}"


def sections(found: Comparison) -> list[tuple[str, list[str]]]:
    """(title, lines) of the page."""
    return [
        ("In short", list(_short(found))),
        ("What a repair takes", list(_repairs(found)) or ["Not simulated."]),
        ("Cases that come out otherwise", list(_flipped(found.flips)) or ["None."]),
        ("What changed", [line for change in found.changes for line in _changed(change)] or ["Nothing."]),
    ]


def markdown_comparison(found: Comparison) -> str:
    """As Markdown."""
    parts = [f"# {markdown(found.title)}"]
    for title, lines in sections(found):
        parts.append(f"\n## {markdown(title)}\n")
        parts += [f"* {markdown(line)}" for line in lines]
    return "\n".join(parts) + "\n"


def html_comparison(found: Comparison) -> str:
    """As one HTML page."""
    return html_page(found.title, sections_html(sections(found)))


def comparison_data(found: Comparison) -> dict[str, Any]:
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
            {"case": flip.case, "verdict": flip.verdict, "old": _place(flip.old), "new": _place(flip.new)} for flip in found.flips
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


def _estimates(world: World) -> tuple[tuple[str, Any], ...]:
    return ("old", world.old), ("new", world.new), ("difference", world.difference), ("quotient", world.quotient)


def _edition(knowledge: Knowledge) -> dict[str, str]:
    return {"name": knowledge.base.name, "edition": knowledge.base.edition, "digest": knowledge.digest}


def _place(trial: Trial | None) -> dict[str, Any] | None:
    return None if trial is None else {"met": trial.met, "rank": trial.rank, "next_step": trial.next_step}


def _short(found: Comparison) -> Iterator[str]:
    for what in ("added", "removed", "changed"):
        items = [c for c in found.changes if c.what == what]
        if items:
            kinds = {c.kind: sum(each.kind == c.kind for each in items) for c in items}
            yield f"{what}: {', '.join(f'{kind} {count}' for kind, count in kinds.items())}"
    verdicts = [flip.verdict for flip in found.flips]
    told = [f"{verdicts.count(v)} {v}" for v in ("better", "worse", "moved", "same", "not in old", "not in new") if v in verdicts]
    yield f"{len(verdicts)} case{'s' * (len(verdicts) != 1)}: {', '.join(told) or 'none'}"


def _repairs(found: Comparison) -> Iterator[str]:
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


def _flipped(flips: Sequence[Flip]) -> Iterator[str]:
    for verdict in ("worse", "better", "moved", "not in new"):
        for flip in flips:
            if flip.verdict == verdict and (flip.old or flip.new):
                yield f"{verdict}: {flip.case}: {_outcome(flip.old)} → {_outcome(flip.new)}"


def _outcome(trial: Trial | None) -> str:
    if trial is None:
        return "not known there"
    return f"{'as expected' if trial.met else 'missed'}, cause at place {trial.rank or '-'}, next {trial.next_step}"


def _changed(change: Change) -> Iterator[str]:
    title = f" ({change.title})" if change.title else ""
    if change.what != "changed":
        yield f"{change.what}: {change.kind}/{change.item}{title}"
        return
    shown = "; ".join(_value(value) for value in change.values[:MOST])
    more = f"; and {len(change.values) - MOST} more" if len(change.values) > MOST else ""
    yield f"changed: {change.kind}/{change.item}: {shown}{more}"


def _value(value: Value) -> str:
    if value.is_number:
        factor = f" (× {value.new / value.old:.2g})" if value.old else ""
        return f"{value.place} {value.old:g} → {value.new:g}{factor}"
    if isinstance(value.old, str) and isinstance(value.new, str) and max(len(value.old), len(value.new)) > LONGEST:
        return f"{value.place}: text changed"
    return f"{value.place} {_short_text(value.old)} → {_short_text(value.new)}"


def _short_text(value: Any) -> str:
    if value is None:
        return "(not there)"
    text = str(value)
    return text if len(text) <= LONGEST else f"{text[:LONGEST]}…"
