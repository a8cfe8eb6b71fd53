"""What a run of the rules comes to, as values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Pair = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Firing:
    """A rule that fired, with the conditions that held: (name, value) pairs in the rule's order."""

    rule: str
    support: tuple[Pair, ...]


@dataclass(frozen=True, slots=True)
class DerivedAnswer:
    """An answer that follows. `premises`: every finding it rests on, reported or derived."""

    answer: str
    rule: str
    premises: frozenset[str]


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A rule derives another answer than the one that stands."""

    finding: str
    stands: str
    derived: str
    rule: str


@dataclass(frozen=True, slots=True)
class RuleWeight:
    """Evidence for or against a cause that a rule adds, in decibans."""

    cause: str
    decibans: float
    rule: str


@dataclass(frozen=True, slots=True)
class Inference:
    """All that follows from a set of answers and facts.

    `reported`: finding -> answer; `facts`: fact of the records -> value. `firings` in the order in which the rules fired.
    `derived`: finding -> what follows for it. `ruled_out` (cause), `cautions` (hazard), `first` (finding to ask first),
    `do_first` (fix), `opened` and `closed` ((kind, id) of a question or action): each -> the rule that did it first.
    """

    reported: Mapping[str, str]
    facts: Mapping[str, str] = field(default_factory=dict)
    firings: tuple[Firing, ...] = ()
    derived: Mapping[str, DerivedAnswer] = field(default_factory=dict)
    contradictions: tuple[Contradiction, ...] = ()
    ruled_out: Mapping[str, str] = field(default_factory=dict)
    weights: tuple[RuleWeight, ...] = ()
    cautions: Mapping[str, str] = field(default_factory=dict)
    first: Mapping[str, str] = field(default_factory=dict)
    do_first: Mapping[str, str] = field(default_factory=dict)
    opened: Mapping[Pair, str] = field(default_factory=dict)
    closed: Mapping[Pair, str] = field(default_factory=dict)

    def answer(self, finding: str) -> str | None:
        """The answer that stands: the reported one, else the derived one, else None."""
        if finding in self.reported:
            return self.reported[finding]
        derived = self.derived.get(finding)
        return derived.answer if derived else None

    def answers(self) -> dict[str, str]:
        """All answers that stand: finding -> answer."""
        return {**{name: d.answer for name, d in self.derived.items()}, **self.reported}
