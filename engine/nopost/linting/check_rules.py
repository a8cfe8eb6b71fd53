"""Rules: those that ask for nothing, that say again what a broader one says already, and pairs that contradict."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from nopost.knowledge import model as m
from nopost.knowledge.effects import EFFECTS, Effect
from nopost.knowledge.problem import Problem
from nopost.knowledge.source_files import PartialKnowledge
from nopost.linting.lint_context import ItemProblem, LintContext
from nopost.linting.reachability import allowed_values, can_hold, conjunction, follows


def no_premise(context: PartialKnowledge) -> Iterator[Problem]:
    """A rule needs at least one thing that holds, or it would fire before anything is known."""
    for rule in context.rules.values():
        if not rule.when.all:
            hint = "add an all: with what must be known"
            yield context.problem("rules", rule.id, ("when",), "no-premise", "fires without knowing anything", hint)


PREMISE_CHECKS = (no_premise,)


class StatedConsequence(NamedTuple):
    """A consequence, and where it stands."""

    rule: m.Rule
    place: int
    says: m.Consequence


def rule_shadowed(view: LintContext) -> Iterator[ItemProblem]:
    """No rule says what another says already whenever it fires. Weights are left out, for they add up and are
    meant to; so are cautions, which must not hang on another rule."""
    for stated, others in _with_others(view):
        broader = next((other for other in others if _shadows(other, stated)), None)
        if broader:
            message = f"{_consequence_words(stated.says)} follows already from {broader.rule.id}, under weaker conditions"
            yield _pair_problem(view, stated, broader, "rule-shadowed", message, "delete it here, or narrow the other rule")


def rule_contradicts(view: LintContext) -> Iterator[ItemProblem]:
    """No rule undoes what another does whenever it fires, and no two derive different answers from the same findings."""
    for stated, others in _with_others(view):
        for other in others:
            reason = _undone(stated, other) or _two_answers(view, stated, other)
            if reason:
                message = (
                    f"{_consequence_words(stated.says)}, but {other.rule.id} means {_consequence_words(other.says)} {reason}"
                )
                yield _pair_problem(
                    view, stated, other, "rule-contradicts", message, "give one of them a condition against the other"
                )


RULE_PAIR_CHECKS: tuple[Callable[[LintContext], Iterator[ItemProblem]], ...] = (rule_shadowed, rule_contradicts)


def _with_others(view: LintContext) -> Iterator[tuple[StatedConsequence, list[StatedConsequence]]]:
    """Each consequence of a rule that can fire, with all that is said about the same thing."""
    said = _by_subject(view)
    for group in said.values():
        for stated in group:
            yield stated, group


def _by_subject(view: LintContext) -> Mapping[tuple[str, str], list[StatedConsequence]]:
    said: defaultdict[tuple[str, str], list[StatedConsequence]] = defaultdict(list)
    for rule in view.knowledge.rules.values():
        if rule.id in view.reach.fired:
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


def _two_answers(view: LintContext, stated: StatedConsequence, other: StatedConsequence) -> str:
    """Why two rules derive different answers from one and the same thing; empty when they do not.

    Two instruments may disagree, and the session then says so: only rules that ask for the same findings are judged.
    """
    both_derive = stated.says.effect is other.says.effect is Effect.DERIVE
    if not both_derive or stated.says.answer == other.says.answer:
        return ""
    if stated.rule.id > other.rule.id or not can_hold(conjunction(stated.rule.when, other.rule.when), view.reach.possible):
        return ""
    mine, theirs = allowed_values(stated.rule.when).keys(), allowed_values(other.rule.when).keys()
    return "and both can fire at once" if mine <= theirs or theirs <= mine else ""


def _consequence_words(says: m.Consequence) -> str:
    return EFFECTS[says.effect].words.format(target=says.target, answer=says.answer, decibans=says.decibans)


def _pair_problem(
    view: LintContext, stated: StatedConsequence, other: StatedConsequence, code: str, message: str, hint: str
) -> ItemProblem:
    about = (f"rules/{other.rule.id}",) if other.rule.id != stated.rule.id else ()
    return view.remark("rules", stated.rule.id, ("then", stated.place), code, message, hint, about)
