"""What a knowledge base holds, as frozen values. Numbers are floats; probabilities are 0 to 1."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from nopost.knowledge.effects import Effect as Effect
from nopost.knowledge.meter_limits import CoinCell as CoinCell
from nopost.knowledge.meter_limits import Limits as Limits
from nopost.knowledge.meter_limits import Rail as Rail
from nopost.knowledge.meter_limits import Signal as Signal
from nopost.knowledge.meter_limits import Time as Time
from nopost.knowledge.reference_records import FACTS
from nopost.knowledge.reference_records import Board as Board
from nopost.knowledge.reference_records import Code as Code
from nopost.knowledge.reference_records import CodeTable as CodeTable
from nopost.knowledge.reference_records import Cpu as Cpu
from nopost.knowledge.reference_records import Release as Release
from nopost.knowledge.roles import Roles as Roles

UNKNOWN = "unknown"
"""Reserved answer: the person cannot tell. It says nothing."""
ABSENT = "absent"
"""Reserved answer: the machine has no such thing. It says nothing about causes and settles the question."""


class Combine(StrEnum):
    """How two causes meet in one finding."""

    GRADED = "graded"
    HISTORY = "history"
    EITHER = "either"


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


@dataclass(frozen=True, slots=True)
class Answer:
    """One thing that can be seen."""

    id: str
    text: str


@dataclass(frozen=True, slots=True)
class Instrument:
    """A finding that is an instrument for another: rows by that one's answers, over our own."""

    finding: str
    table: Mapping[str, Mapping[str, float]]


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that can be observed. `baseline` and `unnamed` map answer id -> probability.

    `given`: answer of the parent -> distribution over its own answers, over all machines with that answer of the parent.
    """

    id: str
    title: str
    part: str
    answers: tuple[Answer, ...]
    question: str = ""
    look: str = ""
    absent: str = ""
    combine: Combine | None = None
    baseline: Mapping[str, float] = field(default_factory=dict)
    unnamed: Mapping[str, float] | None = None
    reads: Instrument | None = None
    misreport: float = 0.03
    effort: Effort = Effort(1.0)
    at: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    action: str = ""
    hazards: tuple[str, ...] = ()
    powered: bool = False
    when: Conditions = Conditions()
    closed: bool = False
    record: tuple[str, ...] = ()
    source: str = ""
    parent: str = ""
    given: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

    @property
    def parent_finding(self) -> str:
        """The finding on whose true answer its own depends besides the causes: its parent, what an instrument reads, or ""."""
        return self.reads.finding if self.reads else self.parent

    @property
    def parent_table(self) -> Mapping[str, Mapping[str, float]]:
        """The parent's answer -> distribution over its own answers, of a finding with a parent or an instrument."""
        return self.reads.table if self.reads else self.given

    @property
    def answer_ids(self) -> tuple[str, ...]:
        """The answers' ids in order."""
        return tuple(a.id for a in self.answers)

    @property
    def own_combination(self) -> tuple[str, ...]:
        """The keys by which it says itself how causes meet in it."""
        keys = {
            "combine": self.combine,
            "baseline": self.baseline,
            "unnamed": self.unnamed,
            "parent": self.parent,
            "given": self.given,
        }
        return tuple(key for key, value in keys.items() if value)

    @property
    def is_instrument(self) -> bool:
        """Whether it is an instrument, and nothing else."""
        return self.reads is not None and not self.own_combination

    @property
    def has_own_combination(self) -> bool:
        """Whether it says how causes meet in it, and is no instrument."""
        return self.reads is None and self.combine is not None

    @property
    def answers_clash(self) -> bool:
        """Whether an id stands twice among its answers or is a reserved one."""
        ids = self.answer_ids
        return len(set(ids)) < len(ids) or bool({UNKNOWN, ABSENT} & set(ids))

    def has_answers(self, named: Iterable[str]) -> bool:
        """Whether these ids are answers of it, and none of its own clash."""
        return not self.answers_clash and set(named) <= set(self.answer_ids)

    @property
    def possible_answers(self) -> tuple[str, ...]:
        """The answers that can be given, reserved ones included."""
        return (*self.answer_ids, UNKNOWN, *((ABSENT,) if self.absent else ()))

    def answer_text(self, answer: str) -> str:
        """What the person reads for this answer id."""
        if answer == UNKNOWN:
            return "Can't tell"
        if answer == ABSENT:
            return self.absent or "Not there"
        return next((a.text for a in self.answers if a.id == answer), answer)


@dataclass(frozen=True, slots=True)
class Cause:
    """A thing that is wrong. `fixes` maps action id -> chance that it mends this cause.

    `shows_given`: finding with a parent -> the parent's answer -> distribution over the finding's answers with this cause.
    `changes`: fix -> chance that something else is seen after it while this cause is still there.
    """

    id: str
    title: str
    part: str
    weight: float
    shows: Mapping[str, Mapping[str, float]]
    fixes: Mapping[str, float]
    proof: str = ""
    explanation: str = ""
    alone: bool = False
    hazards: tuple[str, ...] = ()
    source: Mapping[str, str] = field(default_factory=dict)
    area: str = ""
    shows_given: Mapping[str, Mapping[str, Mapping[str, float]]] = field(default_factory=dict)
    changes: Mapping[str, float] = field(default_factory=dict)

    @property
    def named_findings(self) -> tuple[str, ...]:
        """The findings of which it says anything, each once."""
        return tuple(dict.fromkeys((*self.shows, *self.shows_given)))


@dataclass(frozen=True, slots=True)
class Action:
    """A test or a fix. `tells`: finding -> answer that holds once it was done in vain; `changes`: chance that something else is
    seen after it was done in vain, None when that tells nothing; `route`: ways of a firmware route that it goes; `record`: what
    of the board's record is shown with it."""

    id: str
    title: str
    kind: str
    part: str
    steps: tuple[str, ...]
    effort: Effort
    at: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    powered: bool = False
    when: Conditions = Conditions()
    closed: bool = False
    resets: bool = False
    after: tuple[str, ...] = ()
    tells: Mapping[str, str] = field(default_factory=dict)
    route: tuple[str, ...] = ()
    record: tuple[str, ...] = ()
    source: str = ""
    changes: float | None = None


@dataclass(frozen=True, slots=True)
class Consequence:
    """One thing that follows from a rule: the effect, what it is about, and its answer or decibans."""

    effect: Effect
    target: str
    answer: str = ""
    decibans: float = 0.0


@dataclass(frozen=True, slots=True)
class Rule:
    """What follows from what is known."""

    id: str
    title: str
    when: Conditions
    then: tuple[Consequence, ...]
    because: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Threat:
    """Steps that a hazard threatens: each of these that is given holds, by any of its values. `words` may end in *."""

    words: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    powered: bool | None = None


@dataclass(frozen=True, slots=True)
class Hazard:
    """What can hurt; `stop` keeps everything that needs power away while a rule raises it. `applies`: steps that must name it."""

    id: str
    title: str
    caution: str
    stop: bool = False
    applies: tuple[Threat, ...] = ()
    source: str = ""


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


@dataclass(frozen=True, slots=True)
class Case:
    """What was seen and what it turned out to be. `expect`: what the program should make of it; `causes`: what was wrong, any
    of which is right, without a claim that the program finds it; `codes`: codes, lamps or beeps as they were told."""

    id: str
    title: str
    answers: Mapping[str, str]
    tried: tuple[tuple[str, str], ...]
    records: Mapping[str, Any]
    expect: Mapping[str, Any]
    story: str = ""
    resolution: str = ""
    source: str = ""
    codes: str = ""
    causes: tuple[str, ...] = ()


class RenamedKind(StrEnum):
    """What an id names; the values are the keys of renamed.yaml."""

    FINDING = "findings"
    CAUSE = "causes"
    ACTION = "actions"


NewIds = Mapping[str, tuple[str, ...]]
"""Old id -> the ids that it became."""


@dataclass(frozen=True)
class Renamed:
    """Ids that were split or renamed. `ids`: for each kind, old id -> new ones; `answers`: finding as it is called now -> its old
    answers -> new ones."""

    ids: Mapping[RenamedKind, NewIds] = field(default_factory=dict)
    answers: Mapping[str, NewIds] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return any(self.ids.values()) or bool(self.answers)


@dataclass(frozen=True)
class Knowledge:
    """A whole knowledge base, checked. Each mapping goes from id to item, in order of id."""

    base: Base
    findings: Mapping[str, Finding]
    causes: Mapping[str, Cause]
    actions: Mapping[str, Action]
    rules: Mapping[str, Rule]
    hazards: Mapping[str, Hazard]
    codes: Mapping[str, CodeTable] = field(default_factory=dict)
    boards: Mapping[str, Board] = field(default_factory=dict)
    cpus: Mapping[str, Cpu] = field(default_factory=dict)
    cases: Mapping[str, Case] = field(default_factory=dict)
    limits: Mapping[str, Limits] = field(default_factory=dict)
    digest: str = ""
    renamed: Renamed = field(default_factory=Renamed)
