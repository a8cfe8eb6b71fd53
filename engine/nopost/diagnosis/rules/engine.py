"""Compile the rules of a knowledge base once, then run them as a pure function of answers and facts.

Each effect of a rule has one row in `nopost.knowledge.effects`; how it applies to a run stands here.

What a run comes to is an `Inference`.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Self

from nopost.diagnosis.rules.adapter import Engine, make_rule
from nopost.knowledge.effects import EFFECTS, Effect
from nopost.knowledge.model import Condition, Consequence, Rule
from nopost.knowledge.stratification import rule_layers

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
    `unpowered`: each rule that keeps the machine unpowered -> the ids of the questions and actions that it excepts;
    `unpowered_until`: such a rule -> the questions that end it.
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
    unpowered: Mapping[str, frozenset[str]] = field(default_factory=dict)
    unpowered_until: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def answer(self, finding: str) -> str | None:
        """The answer that stands: the reported one, else the derived one, else None."""
        if finding in self.reported:
            return self.reported[finding]
        derived = self.derived.get(finding)
        return derived.answer if derived else None

    def premises(self, rule: Rule) -> frozenset[str]:
        """Every finding that a rule rests on, those behind derived answers too."""
        return _premises(rule, self.reported, self.derived)

    def once_asked(self, asked: Collection[str]) -> Self:
        """The same without rules that keep the machine unpowered until questions which were all `asked`."""
        ended = {rule for rule, until in self.unpowered_until.items() if until and until.issubset(asked)}
        kept = {rule: exceptions for rule, exceptions in self.unpowered.items() if rule not in ended}
        return replace(self, unpowered=kept) if ended else self

    def keeps_unpowered(self, *names: str) -> str:
        """The first rule that keeps the machine unpowered and excepts none of these ids; "" when there is none."""
        return next((rule for rule, exceptions in self.unpowered.items() if exceptions.isdisjoint(names)), "")

    def answers(self) -> dict[str, str]:
        """All answers that stand: finding -> answer."""
        return {**{name: d.answer for name, d in self.derived.items()}, **self.reported}


def _premises(rule: Rule, reported: Mapping[str, str], derived: Mapping[str, DerivedAnswer]) -> frozenset[str]:
    named = {c.name for c in rule.when.all if not c.of_fact}
    behind = (derived[name].premises for name in named if name not in reported and name in derived)
    return frozenset(named.union(*behind))


class RuleRun:
    """One run of the rules under way. Each rule that fires is added once; `inference` is what it came to.

    reported: finding -> answer; facts: fact of the records -> value. Neither is changed.
    """

    def __init__(self, reported: Mapping[str, str], facts: Mapping[str, str]) -> None:
        self.reported, self.facts = dict(reported), dict(facts)
        self.firings: list[Firing] = []
        self.derived: dict[str, DerivedAnswer] = {}
        self.contradictions: list[Contradiction] = []
        self.ruled_out: dict[str, str] = {}
        self.weights: list[RuleWeight] = []
        self.cautions: dict[str, str] = {}
        self.first: dict[str, str] = {}
        self.do_first: dict[str, str] = {}
        self.opened: dict[Pair, str] = {}
        self.closed: dict[Pair, str] = {}
        self.unpowered: dict[str, frozenset[str]] = {}
        self.unpowered_until: dict[str, frozenset[str]] = {}

    def inference(self) -> Inference:
        """The result; a rule must not fire afterwards."""
        return Inference(
            self.reported,
            self.facts,
            tuple(self.firings),
            self.derived,
            tuple(self.contradictions),
            self.ruled_out,
            tuple(self.weights),
            self.cautions,
            self.first,
            self.do_first,
            self.opened,
            self.closed,
            self.unpowered,
            self.unpowered_until,
        )

    def answer(self, finding: str) -> str | None:
        """The answer that stands: the reported one, else the derived one, else None."""
        if finding in self.reported:
            return self.reported[finding]
        derived = self.derived.get(finding)
        return derived.answer if derived else None

    def fire(self, rule: Rule) -> list[Pair]:
        """Add a firing: the answers (finding, answer) that are new, for other rules to see."""
        support = tuple((c.name, (self.facts[c.name] if c.of_fact else self.answer(c.name)) or "") for c in rule.when.all)
        self.firings.append(Firing(rule.id, support))
        before = len(self.derived)
        for consequence in rule.then:
            APPLICATIONS[consequence.effect](self, rule, consequence)
        return [(finding, derived.answer) for finding, derived in list(self.derived.items())[before:]]

    def premises(self, rule: Rule) -> frozenset[str]:
        """Every finding that a rule rests on, those behind derived answers too."""
        return _premises(rule, self.reported, self.derived)


Application = Callable[[RuleRun, Rule, Consequence], None]


def _derive(run: RuleRun, rule: Rule, says: Consequence) -> None:
    """The first answer stands; a different one is noted as a contradiction."""
    stands = run.answer(says.target)
    if stands is None:
        run.derived[says.target] = DerivedAnswer(says.answer, rule.id, run.premises(rule))
    elif stands != says.answer:
        run.contradictions.append(Contradiction(says.target, stands, says.answer, rule.id))


def _rule_out(run: RuleRun, rule: Rule, says: Consequence) -> None:
    run.ruled_out.setdefault(says.target, rule.id)


def _weigh(run: RuleRun, rule: Rule, says: Consequence) -> None:
    run.weights.append(RuleWeight(says.target, says.decibans, rule.id))


def _caution(run: RuleRun, rule: Rule, says: Consequence) -> None:
    run.cautions.setdefault(says.target, rule.id)


def _keep_unpowered(run: RuleRun, rule: Rule, says: Consequence) -> None:
    run.unpowered[rule.id] = frozenset(says.exceptions)
    run.unpowered_until[rule.id] = frozenset(says.until)


def _open(run: RuleRun, rule: Rule, says: Consequence) -> None:
    run.opened.setdefault((EFFECTS[says.effect].target, says.target), rule.id)


def _close(run: RuleRun, rule: Rule, says: Consequence) -> None:
    run.closed.setdefault((EFFECTS[says.effect].target, says.target), rule.id)


def _ask_first(run: RuleRun, rule: Rule, says: Consequence) -> None:
    run.first.setdefault(says.target, rule.id)
    _open(run, rule, says)


def _do_first(run: RuleRun, rule: Rule, says: Consequence) -> None:
    run.do_first.setdefault(says.target, rule.id)
    _open(run, rule, says)


APPLICATIONS: Mapping[Effect, Application] = MappingProxyType(
    {
        Effect.DERIVE: _derive,
        Effect.RULE_OUT: _rule_out,
        Effect.WEIGH: _weigh,
        Effect.CAUTION: _caution,
        Effect.KEEP_UNPOWERED: _keep_unpowered,
        Effect.OPEN_QUESTION: _open,
        Effect.OPEN_ACTION: _open,
        Effect.CLOSE_QUESTION: _close,
        Effect.CLOSE_ACTION: _close,
        Effect.ASK_FIRST: _ask_first,
        Effect.DO_FIRST: _do_first,
    }
)
"""Effect -> the function that adds it to a run. Of two rules with the same effect on one target the first is the reason kept."""


def firing_order(rules: Mapping[str, Rule]) -> list[Rule]:
    """The rules by layer, then id: of those that could fire, the first in this list does."""
    layers = rule_layers(rules)
    return sorted(rules.values(), key=lambda rule: (layers[rule.id], rule.id))


class RuleEngine:
    """The rules of one knowledge base in an experta network. No result is kept between calls; not for two threads at once."""

    def __init__(self, rules: Mapping[str, Rule]) -> None:
        ordered = firing_order(rules)
        # Unique salience per experta rule: with equal ones experta 1.9.4 fires rules that were cancelled.
        cells = [(rule, present) for rule in ordered for present in _ground(rule.when.all)]
        self._engine = Engine([_compile(rule, present, len(cells) - i) for i, (rule, present) in enumerate(cells)])
        self._rules = rules

    def run(self, answers: Mapping[str, str], facts: Mapping[str, str]) -> Inference:
        """All that follows from these answers (finding -> answer) and facts of the records (fact -> value)."""
        run = RuleRun(answers, facts)

        def fired(rule: str) -> list[Pair]:
            return [(f"finding {name}", value) for name, value in run.fire(self._rules[rule])]

        known = [(f"finding {name}", value) for name, value in answers.items()]
        self._engine.infer(known + [(f"fact {name}", value) for name, value in facts.items()], fired)
        return run.inference()


def _compile(rule: Rule, present: tuple[Pair, ...], salience: int) -> Any:
    absent = [_literal(c, value) for c in rule.when.none for value in c.values]
    return make_rule(rule.id, salience, present, absent)


def _literal(condition: Condition, value: str) -> Pair:
    return ("fact " if condition.of_fact else "finding ") + condition.name, value


def _ground(conditions: tuple[Condition, ...]) -> Iterator[tuple[Pair, ...]]:
    """Each way to choose one value per condition. A name has one value at a time, so at most one of them matches."""
    yield from itertools.product(*([_literal(c, value) for value in c.values] for c in conditions))
