"""What steps take and when they make sense: efforts and conditions, as frozen values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Effort:
    """What a step takes: working minutes, money, and expected damage in money."""

    minutes: float
    money: float = 0.0
    risk: float = 0.0

    def cost(self, minute_rate: float) -> float:
        """Minutes times rate, plus money, plus risk (design, section 5)."""
        return self.minutes * minute_rate + self.money + self.risk

    def __add__(self, other: Effort) -> Effort:
        return Effort(self.minutes + other.minutes, self.money + other.money, self.risk + other.risk)


@dataclass(frozen=True, slots=True)
class Condition:
    """A finding or a fact of the records has one of these values."""

    of_fact: bool
    name: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Conditions:
    """All of the first hold, none of the second does; what is not known does not hold."""

    all: tuple[Condition, ...] = ()
    none: tuple[Condition, ...] = ()

    def __iter__(self) -> Iterator[Condition]:
        yield from self.all
        yield from self.none

    def placed(self) -> Iterator[tuple[tuple[str, int], Condition]]:
        """Each with its place below `when`: all or none, and its number there."""
        for key, conditions in (("all", self.all), ("none", self.none)):
            yield from (((key, index), condition) for index, condition in enumerate(conditions))

    def hold(self, answers: Mapping[str, str], facts: Mapping[str, str]) -> bool:
        """Whether they hold for these answers (finding -> answer) and facts."""

        def holds(c: Condition) -> bool:
            return (facts if c.of_fact else answers).get(c.name) in c.values

        return all(holds(c) for c in self.all) and not any(holds(c) for c in self.none)
