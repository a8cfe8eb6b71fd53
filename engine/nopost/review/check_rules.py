"""Rules beside each other: one that says again what a broader one says already, and pairs that contradict."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from nopost.knowledge import model as m
from nopost.knowledge.model import Verb
from nopost.review.conditions import both, can_hold, follows, wanted
from nopost.review.remark import Remark
from nopost.review.view import View


class Stated(NamedTuple):
    """A consequence, and where it stands."""

    rule: m.Rule
    place: int
    says: m.Consequence


VERB_WORDS = {
    Verb.RULE_OUT: "ruling out {}",
    Verb.CAUTION: "the caution {}",
    Verb.OPEN_QUESTION: "opening the question {}",
    Verb.ASK_FIRST: "asking {} first",
    Verb.DO_FIRST: "doing {} first",
    Verb.CLOSE_QUESTION: "closing the question {}",
    Verb.OPEN_ACTION: "opening the action {}",
    Verb.CLOSE_ACTION: "closing the action {}",
}
OPENS = {
    Verb.OPEN_QUESTION: Verb.CLOSE_QUESTION,
    Verb.ASK_FIRST: Verb.CLOSE_QUESTION,
    Verb.OPEN_ACTION: Verb.CLOSE_ACTION,
    Verb.DO_FIRST: Verb.CLOSE_ACTION,
}
"""What opens -> what undoes it."""


def shadowed(view: View) -> Iterator[Remark]:
    """No rule says what another says already whenever it fires. Weights are left out, for they add up and are
    meant to; so are cautions, which must not hang on another rule."""
    for stated, others in _with_others(view):
        broader = next((other for other in others if _shadows(other, stated)), None)
        if broader:
            message = f"{_words(stated.says)} follows already from {broader.rule.id}, under weaker conditions"
            yield _remark(view, stated, broader, "rule-shadowed", message, "delete it here, or narrow the other rule")


def contradictions(view: View) -> Iterator[Remark]:
    """No rule undoes what another does whenever it fires, and no two derive different answers from the same findings."""
    for stated, others in _with_others(view):
        for other in others:
            reason = _undone(stated, other) or _two_answers(view, stated, other)
            if reason:
                message = f"{_words(stated.says)}, but {other.rule.id} means {_words(other.says)} {reason}"
                yield _remark(view, stated, other, "rule-contradicts", message, "give one of them a condition against the other")


CHECKS: tuple[Callable[[View], Iterator[Remark]], ...] = (shadowed, contradictions)


def _with_others(view: View) -> Iterator[tuple[Stated, list[Stated]]]:
    """Each consequence of a rule that can fire, with all that is said about the same thing."""
    said = _by_subject(view)
    for group in said.values():
        for stated in group:
            yield stated, group


def _by_subject(view: View) -> Mapping[tuple[str, str], list[Stated]]:
    said: defaultdict[tuple[str, str], list[Stated]] = defaultdict(list)
    for rule in view.knowledge.rules.values():
        if rule.id in view.reach.fired:
            for place, says in enumerate(rule.then):
                said[_kind(says.verb), says.target].append(Stated(rule, place, says))
    return said


def _kind(verb: Verb) -> str:
    """What kind of thing a verb is about."""
    if verb in (Verb.RULE_OUT, Verb.WEIGH):
        return "cause"
    return "action" if verb in (Verb.OPEN_ACTION, Verb.CLOSE_ACTION) else "hazard" if verb is Verb.CAUTION else "finding"


def _shadows(other: Stated, stated: Stated) -> bool:
    """Whether the other says the same whenever this one does; of two equal rules the later id is the one too many."""
    if other.rule.id == stated.rule.id or not _covers(other.says, stated.says) or not follows(other.rule.when, stated.rule.when):
        return False
    return other.rule.id < stated.rule.id or not follows(stated.rule.when, other.rule.when)


def _covers(one: m.Consequence, other: m.Consequence) -> bool:
    if other.verb in (Verb.WEIGH, Verb.CAUTION):
        return False
    first_opens = (one.verb, other.verb) in ((Verb.ASK_FIRST, Verb.OPEN_QUESTION), (Verb.DO_FIRST, Verb.OPEN_ACTION))
    return (one.verb is other.verb or first_opens) and one.answer == other.answer


def _undone(stated: Stated, other: Stated) -> str:
    """Why what is stated is of no use: the other forbids it whenever this rule fires. Empty when it does not."""
    opposed = OPENS.get(stated.says.verb) is other.says.verb or (
        stated.says.verb is Verb.WEIGH and stated.says.decibans > 0 and other.says.verb is Verb.RULE_OUT
    )
    return "whenever this fires" if opposed and follows(other.rule.when, stated.rule.when) else ""


def _two_answers(view: View, stated: Stated, other: Stated) -> str:
    """Why two rules derive different answers from one and the same thing; empty when they do not.

    Two instruments may disagree, and the session then says so: only rules that ask for the same findings are judged.
    """
    if stated.says.verb is not Verb.DERIVE or other.says.verb is not Verb.DERIVE or stated.says.answer == other.says.answer:
        return ""
    if stated.rule.id > other.rule.id or not can_hold(both(stated.rule.when, other.rule.when), view.reach.possible):
        return ""
    mine, theirs = wanted(stated.rule.when).keys(), wanted(other.rule.when).keys()
    return "and both can fire at once" if mine <= theirs or theirs <= mine else ""


def _words(says: m.Consequence) -> str:
    if says.verb is Verb.DERIVE:
        return f"{says.target} = {says.answer}"
    if says.verb is Verb.WEIGH:
        return f"{says.decibans:+g} decibans for {says.target}"
    return VERB_WORDS[says.verb].format(says.target)


def _remark(view: View, stated: Stated, other: Stated, code: str, message: str, hint: str) -> Remark:
    about = (f"rules/{other.rule.id}",) if other.rule.id != stated.rule.id else ()
    return view.remark("rules", stated.rule.id, ("then", stated.place), code, message, hint, about)
