"""Arrays by name, each made when it is first asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from nopost.belief.hypotheses import Floats


class OnDemand(Mapping[str, Floats]):
    """Name -> array."""

    def __init__(self, names: Sequence[str], make: Callable[[str], Floats]) -> None:
        self._names, self._make = dict.fromkeys(names), make
        self._made: dict[str, Floats] = {}

    def __getitem__(self, name: str) -> Floats:
        if name not in self._made:
            if name not in self._names:
                raise KeyError(name)
            self._made[name] = self._make(name)
        return self._made[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)
