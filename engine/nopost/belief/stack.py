"""The tables of many findings in one array, so that many are looked up at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from nopost.belief.hypotheses import Floats, Ints


class Stack:
    """P(answer | hypothesis): one row for each answer of each finding, (R, H) in all."""

    def __init__(self, tables: Iterable[tuple[str, Floats]]) -> None:
        """`tables`: (finding, (H, answers)), each looked at once."""
        self._place: dict[str, Ints] = {}
        rows: list[Floats] = []
        for name, table in tables:
            self._place[name] = np.arange(len(rows), len(rows) + table.shape[1])
            rows.extend(table.T)
        self._rows = np.array(rows)

    def of(self, findings: Sequence[str], hypotheses: Ints) -> list[Floats]:
        """For each finding the table of these hypotheses: (N, answers)."""
        if not findings:
            return []
        places = [self._place[name] for name in findings]
        rows = self._rows.take(np.concatenate(places), axis=0).take(hypotheses, axis=1)
        ends = np.cumsum([len(place) for place in places])
        return [part.T for part in np.split(rows, ends[:-1])]
