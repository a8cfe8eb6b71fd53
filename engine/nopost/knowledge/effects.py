"""What a rule can do: one row for each effect. How one is applied to an inference stands in `nopost.diagnosis.rules.engine`.

Everyone who must tell effects apart takes it from here: the reader of rules, the checks of names, contradictions and what can
ever happen, the form for a new rule, and the screens.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType


class Effect(StrEnum):
    """What a rule does; the word is the key in its file."""

    DERIVE = "derive"
    RULE_OUT = "rule-out"
    WEIGH = "weigh"
    CAUTION = "caution"
    KEEP_UNPOWERED = "keep-unpowered"
    OPEN_QUESTION = "open-question"
    ASK_FIRST = "ask-first"
    DO_FIRST = "do-first"
    CLOSE_QUESTION = "close-question"
    OPEN_ACTION = "open-action"
    CLOSE_ACTION = "close-action"


@dataclass(frozen=True, slots=True)
class EffectTraits:
    """What is true of one effect, whatever rule has it.

    `target`: the kind of item it is about: finding, cause, action or hazard; "" when it is about the machine as a whole.
    `fix_only`: of actions only a fix.
    `opposed_by`: the effect that makes it useless when both hold for one target; weight is opposed only when it speaks for the
    cause. `includes`: the weaker effect that it has too. `opens`: whether it opens what starts closed. `adds_up`: whether two
    rules with this effect on one target do more than one of them, so that neither is too many. `as_evidence`: whether it says
    something about causes, findings or dangers, and not only about the order of steps.

    `meaning` is what the form for a new rule says of it; `words` is the effect within a sentence, with {target}, {answer} and
    {decibans} to be filled in.
    """

    target: str
    meaning: str
    words: str
    opposed_by: Effect | None = None
    includes: Effect | None = None
    opens: bool = False
    fix_only: bool = False
    adds_up: bool = False
    as_evidence: bool = False

    @property
    def folder(self) -> str:
        """The folder of a knowledge base in which its targets live; "" when it has none."""
        return f"{self.target}s" if self.target else ""


EFFECTS: Mapping[Effect, EffectTraits] = MappingProxyType(
    {
        Effect.DERIVE: EffectTraits("finding", "another finding has this answer", words="{target} = {answer}", as_evidence=True),
        Effect.RULE_OUT: EffectTraits("cause", "this cause is impossible", words="ruling out {target}", as_evidence=True),
        Effect.WEIGH: EffectTraits(
            "cause",
            "evidence for or against a cause",
            words="{decibans:+g} decibans for {target}",
            opposed_by=Effect.RULE_OUT,
            adds_up=True,
            as_evidence=True,
        ),
        # Two rules may raise one caution: neither warning may hang on the other rule.
        Effect.CAUTION: EffectTraits(
            "hazard", "show a caution from now on", words="the caution {target}", adds_up=True, as_evidence=True
        ),
        # Two rules may keep it unpowered, each with its own exceptions; only what both except may be done.
        Effect.KEEP_UNPOWERED: EffectTraits(
            "", "no power, but for what is excepted", words="keeping it unpowered", adds_up=True, as_evidence=True
        ),
        Effect.ASK_FIRST: EffectTraits(
            "finding",
            "ask this next, before anything else",
            words="asking {target} first",
            opposed_by=Effect.CLOSE_QUESTION,
            includes=Effect.OPEN_QUESTION,
            opens=True,
        ),
        Effect.DO_FIRST: EffectTraits(
            "action",
            "do this fix next, before anything else",
            words="doing {target} first",
            opposed_by=Effect.CLOSE_ACTION,
            includes=Effect.OPEN_ACTION,
            opens=True,
            fix_only=True,
        ),
        Effect.OPEN_QUESTION: EffectTraits(
            "finding",
            "this may be asked now",
            words="opening the question {target}",
            opposed_by=Effect.CLOSE_QUESTION,
            opens=True,
        ),
        Effect.CLOSE_QUESTION: EffectTraits("finding", "this makes no sense to ask", words="closing the question {target}"),
        Effect.OPEN_ACTION: EffectTraits(
            "action",
            "this may be done now",
            words="opening the action {target}",
            opposed_by=Effect.CLOSE_ACTION,
            opens=True,
        ),
        Effect.CLOSE_ACTION: EffectTraits("action", "this makes no sense or is not safe", words="closing the action {target}"),
    }
)
"""Effect -> what is true of it, in the order in which the form for a new rule offers them."""
