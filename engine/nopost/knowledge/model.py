"""What a knowledge base holds, as frozen values. Numbers are floats; probabilities are 0 to 1."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from nopost.knowledge.base_values import Base as Base
from nopost.knowledge.base_values import Coupling as Coupling
from nopost.knowledge.base_values import EntryChoice as EntryChoice
from nopost.knowledge.base_values import InventoryEntry as InventoryEntry
from nopost.knowledge.base_values import Preparation as Preparation
from nopost.knowledge.base_values import RouteEffort as RouteEffort
from nopost.knowledge.base_values import Shop as Shop
from nopost.knowledge.base_values import Tool as Tool
from nopost.knowledge.base_values import Words as Words
from nopost.knowledge.conditions import Condition as Condition
from nopost.knowledge.conditions import Conditions as Conditions
from nopost.knowledge.conditions import Effort as Effort
from nopost.knowledge.effects import Effect as Effect
from nopost.knowledge.meter_limits import CoinCell as CoinCell
from nopost.knowledge.meter_limits import Limits as Limits
from nopost.knowledge.meter_limits import Rail as Rail
from nopost.knowledge.meter_limits import Signal as Signal
from nopost.knowledge.meter_limits import Time as Time
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
    def is_past(self) -> bool:
        """Whether it is about the past, which no fix changes."""
        return self.combine is Combine.HISTORY

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
    of the board's record is shown with it; `look_first`: finding whose answer shows whether it is needed, "" when none does."""

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
    look_first: str = ""


@dataclass(frozen=True, slots=True)
class Consequence:
    """One thing that follows from a rule: the effect, what it is about, and its answer or decibans.

    `exceptions`: ids of questions and actions that may have power although the effect keeps the machine unpowered; `until`:
    findings that end it when all of them were asked, whatever the answer.
    """

    effect: Effect
    target: str
    answer: str = ""
    decibans: float = 0.0
    exceptions: tuple[str, ...] = ()
    until: tuple[str, ...] = ()


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

    @property
    def identity(self) -> dict[str, str]:
        """Which knowledge base it is: name, edition and digest, as every result that names it says."""
        return {"name": self.base.name, "edition": self.base.edition, "digest": self.digest}
