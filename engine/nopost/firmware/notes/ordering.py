"""Which release is the older one: by the place in the list and by dates. Versions are never compared."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from nopost.firmware.notes.entry import Entry, Remark

FEW = 0.25
"""While no larger share of neighbours goes against the rest, the list is believed and not the odd dates."""


def in_order(entries: Sequence[Entry]) -> tuple[list[Entry], list[Remark]]:
    """Entries oldest first, and where place and date disagree. Without a direction: newest first, as most are."""
    up = sum(a.date < b.date for a, b in itertools.pairwise(entries))
    down = sum(a.date > b.date for a, b in itertools.pairwise(entries))
    placed = list(entries) if up > down else list(entries[::-1])
    against = [(a, b) for a, b in itertools.pairwise(placed) if a.date > b.date]
    if not against:
        return placed, _same_day(placed, up == down)
    by_list = len(against) <= FEW * (len(placed) - 1)
    took = "the order of the list was taken" if by_list else "the order of the dates was taken"
    doubts = [
        Remark(b.line, f"{a.version} ({a.date}) and {b.version} ({b.date}): list and dates disagree which is older; {took}")
        for a, b in against
    ]
    return (placed if by_list else sorted(placed, key=lambda entry: entry.date)), doubts


def _same_day(placed: Sequence[Entry], directionless: bool) -> list[Remark]:
    if directionless and len(placed) > 1:
        return [Remark(0, "the dates do not say in which direction the list goes; it was read as newest first")]
    return []
