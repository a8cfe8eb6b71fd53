"""Arrays by name, each made when it is asked for; those that are not too large are kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from nopost.belief.hypotheses import Floats

KEPT = 500_000
"""Numbers of one array that are kept; larger ones are made anew each time."""


class OnDemand(Mapping[str, Floats]):
    """Name -> array."""

    def __init__(self, names: Sequence[str], make: Callable[[str], Floats]) -> None:
        self._names, self._make = dict.fromkeys(names), make
        self._made: dict[str, Floats] = {}

    def __getitem__(self, name: str) -> Floats:
        if name in self._made:
            return self._made[name]
        if name not in self._names:
            raise KeyError(name)
        made = self._make(name)
        if made.size <= KEPT:
            self._made[name] = made
        return made

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)
