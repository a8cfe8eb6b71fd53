"""What holds for a whole knowledge base, as frozen values: tools, preparations, inventory, last resort, words, couplings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from nopost.knowledge.conditions import Condition, Effort
from nopost.knowledge.reference_records import FACTS
from nopost.knowledge.roles import Roles

if TYPE_CHECKING:
    from nopost.knowledge.model import Cause


@dataclass(frozen=True, slots=True)
class Tool:
    """A tool or spare and what it takes to get one."""

    title: str
    effort: Effort


@dataclass(frozen=True, slots=True)
class Preparation:
    """A state of the machine in which steps take place, and what getting there and back takes. `needs`: other preparations first;
    `stays`: it is kept while the machine is tried."""

    title: str
    effort: Effort
    needs: tuple[str, ...] = ()
    stays: bool = False


@dataclass(frozen=True, slots=True)
class EntryChoice:
    """What can be chosen for an entry of the inventory. `told_by`: one of these answers tells it; `tools`: at hand then."""

    text: str
    told_by: tuple[Condition, ...] = ()
    tools: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class InventoryEntry:
    """One thing that may be in the machine, or at hand. Its id names a fact, whose values are the choices."""

    question: str
    choices: Mapping[str, EntryChoice]


@dataclass(frozen=True, slots=True)
class Shop:
    """The last resort."""

    title: str
    effort: Effort
    hand_over: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RouteEffort:
    """What each way of a firmware route takes by itself; `button_minutes`: how long the button writes as a rule."""

    ways: Mapping[str, Effort]
    button_minutes: float


@dataclass(frozen=True, slots=True)
class Words:
    """What a faulty machine and its ends are called on screens and pages. `prove`: what to do once it works."""

    machine: str = "A machine that does not work"
    machines: str = "machines that do not work"
    works: str = "It works"
    fails: str = "It does not work"
    prove: str = "Prove that it is well"

    @property
    def it_works(self) -> str:
        """`works` within a sentence."""
        return self.works[:1].lower() + self.works[1:]

    @property
    def it_fails(self) -> str:
        """`fails` within a sentence."""
        return self.fails[:1].lower() + self.fails[1:]


@dataclass(frozen=True, slots=True)
class Coupling:
    """One event that breaks two parts: of the machines with the cause `first`, this share has the cause `second` too."""

    first: str
    second: str
    share: float
    because: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Base:
    """What holds for the whole knowledge base."""

    name: str
    edition: str
    minute_rate: float
    shop: Shop
    two_faults: float
    unlisted_share: float
    unlisted_spread: float
    opening: tuple[str, ...]
    parts: Mapping[str, str]
    tools: Mapping[str, Tool]
    proof: tuple[str, ...]
    reset_settings: tuple[str, ...] = ()
    route_effort: RouteEffort | None = None
    words: Words = Words()
    roles: Roles = field(default_factory=Roles)
    preparations: Mapping[str, Preparation] = field(default_factory=dict)
    trial: Effort = Effort(0.0)
    exchange: Effort = Effort(0.0)
    coupled: tuple[Coupling, ...] = ()
    areas: Mapping[str, str] = field(default_factory=dict)
    inventory: Mapping[str, InventoryEntry] = field(default_factory=dict)

    def closure(self, at: Iterable[str]) -> frozenset[str]:
        """These preparations and all that they need before."""
        found: set[str] = set()
        waiting = list(at)
        while waiting:
            name = waiting.pop()
            if name not in found:
                found.add(name)
                waiting.extend(self.preparations[name].needs)
        return frozenset(found)

    @property
    def area_titles(self) -> Mapping[str, str]:
        """Area -> title; where a base names no areas, its parts are the areas."""
        return self.areas or self.parts

    def area_of(self, cause: Cause) -> str:
        """The area that a cause belongs to."""
        return cause.area if self.areas else cause.part

    @property
    def facts(self) -> Mapping[str, tuple[str, ...]]:
        """Fact -> the values it can have: those of the records, and the entries of the inventory."""
        return {**{name: tuple(entry.choices) for name, entry in self.inventory.items()}, **FACTS}
