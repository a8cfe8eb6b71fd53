"""When to practise a cause again: the rule SM-2 (Wozniak 1990, "Optimization of learning"), replayed over attempts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

FIRST_EASE = 2.5
LEAST_EASE = 1.3
PASSED = 3
"""From this quality on an attempt counts as passed."""
FIRST_DAYS = (1, 6)


@dataclass(frozen=True, slots=True)
class Card:
    """What is known of one cause: passed attempts in a row, ease, the present interval in days, and when it is due."""

    row: int = 0
    ease: float = FIRST_EASE
    days: int = 0
    due: date = date.min
    attempts: int = 0

    def after(self, quality: int, day: date) -> Card:
        """The card after an attempt of quality 0 to 5. A failed one begins anew with the ease unchanged."""
        if quality < PASSED:
            return Card(0, self.ease, FIRST_DAYS[0], day + timedelta(days=FIRST_DAYS[0]), self.attempts + 1)
        ease = max(LEAST_EASE, self.ease + 0.1 - (5 - quality) * (0.08 + (5 - quality) * 0.02))
        days = FIRST_DAYS[self.row] if self.row < len(FIRST_DAYS) else -(-self.days * ease // 1)
        return Card(self.row + 1, ease, int(days), day + timedelta(days=int(days)), self.attempts + 1)


def cards(attempts: Iterable[tuple[date, str, int]]) -> dict[str, Card]:
    """Cause -> card, from (day, cause, quality) in the order in which it happened."""
    found: dict[str, Card] = {}
    for day, cause, quality in attempts:
        found[cause] = found.get(cause, Card()).after(quality, day)
    return found


def due(found: dict[str, Card], day: date) -> list[str]:
    """Causes due on a day: the most overdue first, then the hardest."""
    late = [(card.due, card.ease, cause) for cause, card in found.items() if card.due <= day]
    return [cause for _, _, cause in sorted(late)]
