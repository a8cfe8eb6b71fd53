"""What a run of the rules comes to, as values; and how one firing adds to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from nopost.knowledge.model import Consequence, Effect, Rule

Pair = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Firing:
    """A rule that fired, with the conditions that held: (name, value) pairs in the rule's order."""

    rule: str
    support: tuple[Pair, ...]


@dataclass(frozen=True, slots=True)
class DerivedAnswer:
    """An answer that follows. `roots`: every finding it rests on, reported or derived."""

    answer: str
    rule: str
    roots: frozenset[str]


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A rule derives another answer than the one that stands."""

    finding: str
    stands: str
    derived: str
    rule: str


@dataclass(frozen=True, slots=True)
class RuleWeight:
    """Evidence for or against a cause that a rule adds."""

    cause: str
    decibans: float
    rule: str


@dataclass(slots=True)
class Inference:
    """All that follows from a set of answers and facts."""

    reported: Mapping[str, str]
    facts: Mapping[str, str] = field(default_factory=dict)
    firings: list[Firing] = field(default_factory=list)
    derived: dict[str, DerivedAnswer] = field(default_factory=dict)
    contradictions: list[Contradiction] = field(default_factory=list)
    ruled_out: dict[str, str] = field(default_factory=dict)
    weights: list[RuleWeight] = field(default_factory=list)
    cautions: dict[str, str] = field(default_factory=dict)
    first: dict[str, str] = field(default_factory=dict)
    do_first: dict[str, str] = field(default_factory=dict)
    opened: dict[Pair, str] = field(default_factory=dict)
    closed: dict[Pair, str] = field(default_factory=dict)

    def answer(self, finding: str) -> str | None:
        """The answer that stands: the reported one, else the derived one, else None."""
        if finding in self.reported:
            return self.reported[finding]
        derived = self.derived.get(finding)
        return derived.answer if derived else None

    def answers(self) -> dict[str, str]:
        """All answers that stand."""
        return {**{name: d.answer for name, d in self.derived.items()}, **self.reported}

    def fire(self, rule: Rule) -> list[Pair]:
        """Add a firing; the facts that are new, to be declared."""
        support = tuple((c.name, (self.facts[c.name] if c.of_fact else self.answer(c.name)) or "") for c in rule.when.all)
        self.firings.append(Firing(rule.id, support))
        roots = self._roots([c.name for c in rule.when.all if not c.of_fact])
        fresh = []
        for consequence in rule.then:
            if self._take(rule, consequence, roots):
                fresh.append((consequence.target, consequence.answer))
        return fresh

    def _roots(self, premises: list[str]) -> frozenset[str]:
        found = set(premises)
        for name in premises:
            if name not in self.reported and name in self.derived:
                found |= self.derived[name].roots
        return frozenset(found)

    def _take(self, rule: Rule, consequence: Consequence, roots: frozenset[str]) -> bool:
        target = consequence.target
        match consequence.verb:
            case Effect.DERIVE:
                return self._derive(rule, target, consequence.answer, roots)
            case Effect.RULE_OUT:
                self.ruled_out.setdefault(target, rule.id)
            case Effect.WEIGH:
                self.weights.append(RuleWeight(target, consequence.decibans, rule.id))
            case Effect.CAUTION:
                self.cautions.setdefault(target, rule.id)
            case Effect.ASK_FIRST:
                self.first.setdefault(target, rule.id)
                self.opened.setdefault(("finding", target), rule.id)
            case Effect.DO_FIRST:
                self.do_first.setdefault(target, rule.id)
                self.opened.setdefault(("action", target), rule.id)
            case Effect.OPEN_QUESTION:
                self.opened.setdefault(("finding", target), rule.id)
            case Effect.OPEN_ACTION:
                self.opened.setdefault(("action", target), rule.id)
            case Effect.CLOSE_QUESTION:
                self.closed.setdefault(("finding", target), rule.id)
            case Effect.CLOSE_ACTION:
                self.closed.setdefault(("action", target), rule.id)
        return False

    def _derive(self, rule: Rule, finding: str, answer: str, roots: frozenset[str]) -> bool:
        """Settle an answer; False when one stands already (a different one is noted)."""
        stands = self.answer(finding)
        if stands is None:
            self.derived[finding] = DerivedAnswer(answer, rule.id, roots)
            return True
        if stands != answer:
            self.contradictions.append(Contradiction(finding, stands, answer, rule.id))
        return False
