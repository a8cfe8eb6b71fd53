"""Fixes one after the other by falling chance over cost, for many states of belief at once.

Masses are (B, K), `chance` (K, A), `cost` (A,), as in `repair`.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from nopost.belief.hypotheses import Floats, Ints

NOTHING = 1e-9
GATHERING = 60
"""Looking one number up by its index takes about as long as so many products of whole matrices (measured)."""


def falling_ratio(mass: Floats, chance: Floats, cost: Floats, count: int) -> Iterator[tuple[Ints, Floats]]:
    """Up to `count` times: (B,) the fix of the greatest ratio in each row, and (B,) the mass that is left when it fails."""
    rows = np.arange(len(mass))
    left = _Thin(mass, chance, cost) if _is_thin(chance) else _Dense(mass, chance, cost)
    unused = np.ones((len(mass), len(cost)), dtype=bool)
    for _ in range(min(count, len(cost))):
        ratio = np.where(unused, left.ratio(), -1.0)
        action = ratio.argmax(axis=1)
        if ratio[rows, action].max(initial=0.0) <= NOTHING:
            return
        left.fail(action)
        unused[rows, action] = False
        yield action, left.total()


def _is_thin(chance: Floats) -> bool:
    """Whether so few fixes help so few causes that it is quicker to follow each than to multiply the whole matrix."""
    helps = chance != 0
    most = helps.sum(axis=0).max(initial=0) * helps.sum(axis=1).max(initial=0)
    return bool(most * GATHERING < chance.size)


class _Dense:
    """What is left, with products of whole matrices."""

    def __init__(self, mass: Floats, chance: Floats, cost: Floats) -> None:
        self._left, self._stays, self._weight = mass, 1 - chance.T, chance / cost

    def ratio(self) -> Floats:
        """(B, A) chance over cost of each fix now."""
        return np.asarray(self._left @ self._weight)

    def fail(self, action: Ints) -> None:
        """In each row this fix has failed."""
        self._left = self._left * self._stays[action]

    def total(self) -> Floats:
        """(B,) what is left in each row."""
        return np.asarray(self._left.sum(axis=1))


class _Thin:
    """The same, following only what a fix touches: the causes that it helps, and the other fixes that help these.

    One column more stands for no cause and no fix, where short lists are filled up.
    """

    def __init__(self, mass: Floats, chance: Floats, cost: Floats) -> None:
        self._rows = np.arange(len(mass))[:, None]
        self._left = np.hstack([mass, np.zeros((len(mass), 1))])
        self._ratio = np.hstack([mass @ (chance / cost), np.zeros((len(mass), 1))])
        self._total = mass.sum(axis=1)
        self._causes, self._chance = _listed(chance.T)
        self._fixes, self._weight = _listed(np.vstack([chance / cost, np.zeros((1, len(cost)))]))

    def ratio(self) -> Floats:
        """(B, A) chance over cost of each fix now."""
        return np.asarray(self._ratio[:, :-1])

    def fail(self, action: Ints) -> None:
        """In each row this fix has failed."""
        causes = self._causes[action]
        mended = self._left[self._rows, causes] * self._chance[action]
        self._left[self._rows, causes] -= mended
        self._total = self._total - mended.sum(axis=1)
        for cause, share in zip(causes.T, mended.T, strict=True):  # one at a time, for two causes may have a fix in common
            self._ratio[self._rows, self._fixes[cause]] -= share[:, None] * self._weight[cause]

    def total(self) -> Floats:
        """(B,) what is left in each row."""
        return np.asarray(self._total)


def _listed(matrix: Floats) -> tuple[Ints, Floats]:
    """(N, most) places of the numbers that are not 0 in each row, and these numbers; filled up with the place after the last."""
    there = matrix != 0
    count = there.sum(axis=1)
    columns = np.full((len(matrix), int(count.max(initial=0))), matrix.shape[1], dtype=np.intp)
    numbers = np.zeros(columns.shape)
    row, column = np.nonzero(there)
    place = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    columns[row, place], numbers[row, place] = column, matrix[row, column]
    return columns, numbers
