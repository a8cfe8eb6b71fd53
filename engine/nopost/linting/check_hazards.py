"""Steps that leave out a caution: what the hazards' own `applies` says of words, tools, parts and power."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from nopost.knowledge import model as m
from nopost.knowledge.problem import Problem, ProblemCode
from nopost.linting.lint_check import Check


class CautionedStep(NamedTuple):
    """Something a person is told to do, with the hazards that are shown before it."""

    folder: str
    id: str
    text: str
    needs: tuple[str, ...]
    part: str
    powered: bool
    hazards: tuple[str, ...]


class NoCaution(Check):
    """Each step names every hazard that threatens it."""

    code = ProblemCode(
        "no-caution",
        "A step without a caution that its hazard asks for",
        "A hazard's applies says by words, tools, parts and power which steps it threatens. This one comes unwarned.",
        "Add the hazard to the step; or, when the step is not meant, make the words in the hazard's applies narrower.",
    )

    def run(self) -> Iterator[Problem]:
        for step in _steps(self.knowledge):
            for hazard in self.knowledge.hazards.values():
                reason = _reason(hazard, step) if hazard.id not in step.hazards else ""
                if reason:
                    message = f"no caution {hazard.id}, though {reason}"
                    hint = f"add {hazard.id} to hazards:"
                    yield self.problem(step.folder, step.id, ("hazards",), message, hint, (f"hazards/{hazard.id}",))


CHECKS = (NoCaution,)


def _steps(k: m.Knowledge) -> Iterator[CautionedStep]:
    for action in k.actions.values():
        text = " ".join((action.title, *action.steps))
        yield CautionedStep("actions", action.id, text.lower(), action.needs, action.part, action.powered, action.hazards)
    for finding in k.findings.values():
        if finding.question:
            hazards = (*finding.hazards, *(k.actions[finding.action].hazards if finding.action else ()))
            text = f"{finding.question} {finding.look}".lower()
            yield CautionedStep("findings", finding.id, text, finding.needs, finding.part, finding.powered, hazards)


def _reason(hazard: m.Hazard, step: CautionedStep) -> str:
    """Why the hazard threatens the step; empty when it does not."""
    return next(filter(None, (_threatens(threat, step) for threat in hazard.applies)), "")


def _threatens(threat: m.Threat, step: CautionedStep) -> str:
    reasons = []
    if threat.words:
        reasons.append(_word_found(threat.words, step.text))
    if threat.needs:
        reasons.append(next((f"it needs {need}" for need in threat.needs if need in step.needs), ""))
    if threat.parts:
        reasons.append(f"its part is {step.part}" if step.part in threat.parts else "")
    if threat.powered is not None:
        reasons.append(f"it is done with the mains {'on' if step.powered else 'off'}" if step.powered is threat.powered else "")
    return " and ".join(reasons) if all(reasons) else ""


def _word_found(words: tuple[str, ...], text: str) -> str:
    for word in words:
        found = _pattern(word).search(text)
        if found:
            return f"it says “{' '.join(found[0].split())}”"
    return ""


@cache
def _pattern(word: str) -> re.Pattern[str]:
    """The word or phrase as a whole, over any white space; a last * takes any ending."""
    ending = r"\w*" if word.endswith("*") else ""
    spaced = r"\s+".join(map(re.escape, word.rstrip("*").lower().split()))
    return re.compile(rf"\b{spaced}{ending}\b")
