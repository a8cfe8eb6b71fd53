"""What the belief is asked about: reports, fixes that failed, and what rules add."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Report:
    """An answer to a finding. `epoch`: how many fixes had been tried before it was seen."""

    finding: str
    answer: str
    epoch: int = 0


@dataclass(frozen=True, slots=True)
class Evidence:
    """All evidence. `tried`: actions in order after which the machine still does not start.

    `decibans`: (cause, decibans, rule); `ruled_out`: causes that are impossible; `unchanged`: epochs begun by a fix after which
    nothing had changed, so what was seen before still stands.
    """

    reports: tuple[Report, ...] = ()
    tried: tuple[str, ...] = ()
    decibans: tuple[tuple[str, float, str], ...] = ()
    ruled_out: frozenset[str] = frozenset()
    unchanged: frozenset[int] = frozenset()

    def standing(self, epoch: int) -> tuple[Report, ...]:
        """Reports of earlier epochs since which nothing has changed."""
        start = epoch
        while start in self.unchanged:
            start -= 1
        return tuple(r for r in self.reports if start <= r.epoch < epoch) if start < epoch else ()
