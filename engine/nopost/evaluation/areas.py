"""Areas above causes: "memory, whichever way" is useful long before the cause is known."""

from __future__ import annotations

from collections.abc import Sequence

from nopost.evaluation.calibration import place_of
from nopost.knowledge.model import Knowledge


def area_of(knowledge: Knowledge, cause: str) -> str:
    """The area that a cause belongs to; "" for a cause that the knowledge does not have."""
    return knowledge.base.area_of(knowledge.causes[cause]) if cause in knowledge.causes else ""


def area_ranking(knowledge: Knowledge, ranking: Sequence[tuple[str, float]]) -> list[tuple[str, float]]:
    """(area, sum of the probabilities of its causes), falling."""
    sums: dict[str, float] = {}
    for cause, chance in ranking:
        area = area_of(knowledge, cause)
        sums[area] = sums.get(area, 0.0) + chance
    return sorted(sums.items(), key=lambda pair: (-pair[1], pair[0]))


def area_place_of(knowledge: Knowledge, ranking: Sequence[tuple[str, float]], causes: Sequence[str]) -> int:
    """Place of the best-placed area of these causes, from 1; 0 when none of them is known."""
    return place_of(area_ranking(knowledge, ranking), {area_of(knowledge, cause) for cause in causes} - {""})
