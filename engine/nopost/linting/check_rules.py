"""Rules: those that ask for nothing, that say again what a broader one says already, and pairs that contradict."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from nopost.knowledge import model as m
from nopost.knowledge.effects import EFFECTS, Effect
from nopost.knowledge.problem import Problem, ProblemCode, Severity
from nopost.knowledge.stratification import CycleError, rule_layers
from nopost.linting.lint_check import Check, LintContext, Stage
from nopost.linting.reachability import allowed_values, can_hold, conjunction, follows


class NoPremise(Check):
    """A rule needs at least one thing that holds, or it would fire before anything is known."""

    code = ProblemCode(
        "no-premise",
        "A rule that asks for nothing",
        "It would fire before anything is known.",
        "Add an all: with what must be known.",
    )
    stage = Stage.ITEM

    def run(self) -> Iterator[Problem]:
        for rule in self.items.rules.values():
            if not rule.when.all:
                hint = "add an all: with what must be known"
                yield self.problem("rules", rule.id, ("when",), "fires without knowing anything", hint)


class RuleCycle(Check):
    """No rule depends on the absence of what it leads to."""

    code = ProblemCode(
        "rule-cycle",
        "Rules that depend on their own absence",
        "Nobody can say which of them fires.",
        "Take a none: out of the ring.",
    )
    stage = Stage.WHOLE

    def run(self) -> Iterator[Problem]:
        rules = dict(self.items.rules)
        while chain := _cycle(rules):
            message = f"depends on its own absence: {' → '.join(chain)}"
            hint = "take the 'none' out of one of them"
            yield self.problem("rules", chain[0], ("when", "none"), message, hint)
            for name in set(chain):
                del rules[name]


def _cycle(rules: Mapping[str, m.Rule]) -> tuple[str, ...]:
    try:
        rule_layers(rules)
    except CycleError as error:
        return error.rules
    return ()


class StatedConsequence(NamedTuple):
    """A consequence, and where it stands."""

    rule: m.Rule
    place: int
    says: m.Consequence


class RulePairCheck(Check):
    """A check of two consequences that are about the same thing."""

    def pair_problem(self, stated: StatedConsequence, other: StatedConsequence, message: str, hint: str) -> Problem:
        """A problem at the one that is stated; it is about both rules."""
        others = (f"rules/{other.rule.id}",) if other.rule.id != stated.rule.id else ()
        return self.problem("rules", stated.rule.id, ("then", stated.place), message, hint, others)


class RuleShadowed(RulePairCheck):
    """No rule says what another says already whenever it fires. Weights are left out, for they add up and are
    meant to; so are cautions, which must not hang on another rule."""

    code = ProblemCode(
        "rule-shadowed",
        "A rule that says what a broader rule says already",
        "Whenever it fires, the other one has fired too. The next editor changes one of them and wonders.",
        "Delete the consequence here, or narrow the broader rule.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        for stated, others in _with_others(self.context):
            broader = next((other for other in others if _shadows(other, stated)), None)
            if broader:
                message = f"{_consequence_words(stated.says)} follows already from {broader.rule.id}, under weaker conditions"
                yield self.pair_problem(stated, broader, message, "delete it here, or narrow the other rule")


class RuleContradicts(RulePairCheck):
    """No rule undoes what another does whenever it fires, and no two derive different answers from the same findings."""

    code = ProblemCode(
        "rule-contradicts",
        "Two rules that contradict each other",
        "One opens what the other closes, weighs for what the other rules out, or derives another answer from it.",
        "Give one of them a condition that excludes the other.",
    )

    def run(self) -> Iterator[Problem]:
        for stated, others in _with_others(self.context):
            for other in others:
                reason = _undone(stated, other) or _two_answers(self.context, stated, other)
                if reason:
                    message = (
                        f"{_consequence_words(stated.says)}, but {other.rule.id} means {_consequence_words(other.says)} {reason}"
                    )
                    yield self.pair_problem(stated, other, message, "give one of them a condition against the other")


class NeedlessPower(Check):
    """Each exception of a rule that keeps the machine unpowered lets something happen that needs power."""

    code = ProblemCode(
        "needless-power",
        "An exception from keeping it unpowered that lets nothing happen",
        "What needs no power is not kept back. A question whose test needs power waits for its test to be excepted.",
        "Take it out, or name the test of the question.",
    )

    def run(self) -> Iterator[Problem]:
        for rule in self.knowledge.rules.values():
            for index, says in enumerate(rule.then):
                for place, name in enumerate(says.exceptions):
                    if reason := self._lets_nothing_happen(name, says.exceptions):
                        where = ("then", index, says.effect.value, "except", place)
                        yield self.problem("rules", rule.id, where, reason, "take it out, or name the test of the question")

    def _lets_nothing_happen(self, name: str, exceptions: tuple[str, ...]) -> str:
        """Why this exception is of no use; empty when it is of use."""
        action, finding = self.knowledge.actions.get(name), self.knowledge.findings.get(name)
        if action is not None and action.powered:
            return ""
        test = self.knowledge.actions.get(finding.action) if finding else None
        if test is not None and test.powered and test.id not in exceptions:
            return f"{name} still waits for its test {test.id}, which is not excepted"
        return "" if finding is not None and finding.powered else f"{name} needs no power, so it is not kept back"


CHECKS = (NoPremise, RuleCycle, RuleShadowed, RuleContradicts, NeedlessPower)


def _with_others(context: LintContext) -> Iterator[tuple[StatedConsequence, list[StatedConsequence]]]:
    """Each consequence of a rule that can fire, with all that is said about the same thing."""
    said = _by_subject(context)
    for group in said.values():
        for stated in group:
            yield stated, group


def _by_subject(context: LintContext) -> Mapping[tuple[str, str], list[StatedConsequence]]:
    said: defaultdict[tuple[str, str], list[StatedConsequence]] = defaultdict(list)
    for rule in context.knowledge.rules.values():
        if rule.id in context.reach.fired:
            for place, says in enumerate(rule.then):
                said[EFFECTS[says.effect].target, says.target].append(StatedConsequence(rule, place, says))
    return said


def _shadows(other: StatedConsequence, stated: StatedConsequence) -> bool:
    """Whether the other says the same whenever this one does; of two equal rules the later id is the one too many."""
    if other.rule.id == stated.rule.id or not _covers(other.says, stated.says) or not follows(other.rule.when, stated.rule.when):
        return False
    return other.rule.id < stated.rule.id or not follows(stated.rule.when, other.rule.when)


def _covers(one: m.Consequence, other: m.Consequence) -> bool:
    """Whether the one consequence has all that the other has."""
    if EFFECTS[other.effect].adds_up:
        return False
    return other.effect in (one.effect, EFFECTS[one.effect].includes) and one.answer == other.answer


def _undone(stated: StatedConsequence, other: StatedConsequence) -> str:
    """Why what is stated is of no use: the other forbids it whenever this rule fires. Empty when it does not."""
    opposed = EFFECTS[stated.says.effect].opposed_by is other.says.effect
    speaks_against = stated.says.effect is Effect.WEIGH and stated.says.decibans <= 0
    return "whenever this fires" if opposed and not speaks_against and follows(other.rule.when, stated.rule.when) else ""


def _two_answers(context: LintContext, stated: StatedConsequence, other: StatedConsequence) -> str:
    """Why two rules derive different answers from one and the same thing; empty when they do not.

    Two instruments may disagree, and the session then says so: only rules that ask for the same findings are judged.
    """
    both_derive = stated.says.effect is other.says.effect is Effect.DERIVE
    if not both_derive or stated.says.answer == other.says.answer:
        return ""
    if stated.rule.id > other.rule.id or not can_hold(conjunction(stated.rule.when, other.rule.when), context.reach.possible):
        return ""
    mine, theirs = allowed_values(stated.rule.when).keys(), allowed_values(other.rule.when).keys()
    return "and both can fire at once" if mine <= theirs or theirs <= mine else ""


def _consequence_words(says: m.Consequence) -> str:
    return EFFECTS[says.effect].words.format(target=says.target, answer=says.answer, decibans=says.decibans)
