"""Safety, decided once for all faces: which cautions stand before a step, which of them in full, and which is a stop."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.diagnose import Diagnosis
from nopost.knowledge.effects import Effect
from nopost.knowledge.model import Hazard, Knowledge


@dataclass(frozen=True, slots=True)
class CautionView:
    """A caution before a step. `stops`: what was seen raised it, and nothing that needs power is done while it stands.
    `in_full`: it is shown whole; else its title is enough, for it was told before or the work around the step raised it."""

    hazard: Hazard
    stops: bool
    in_full: bool


def step_hazards(knowledge: Knowledge, kind: StepKind, name: str) -> tuple[str, ...]:
    """Hazards of the step itself, those of its test first, each once."""
    names: list[str] = []
    if kind is StepKind.ASK:
        finding = knowledge.findings[name]
        names += knowledge.actions[finding.action].hazards if finding.action else ()
        names += finding.hazards
    elif kind is StepKind.DO:
        names += knowledge.actions[name].hazards
    return tuple(dict.fromkeys(names))


def is_confirmation(step: Step) -> bool:
    """Whether a step makes sure, without power, of an answer that stops everything."""
    return step.again and bool(step.rule)


def cautions_of(
    knowledge: Knowledge, diagnosis: Diagnosis, step: Step, told: frozenset[str] = frozenset()
) -> Iterator[CautionView]:
    """The cautions before a step, stops first: those of the step itself, every stop that was raised, and, where hands go near the
    machine, all else that was raised.

    In full: every stop that stands, and what is the step's own or comes with the rule that puts it first, unless it was told.
    """
    each = (step.id, *step.together) if step.kind is not StepKind.LAST_RESORT else (step.id,)
    hazards = (hazard for name in each for hazard in step_hazards(knowledge, step.kind, name))
    own = () if is_confirmation(step) else tuple(dict.fromkeys(hazards))
    raised = diagnosis.inference.cautions
    with_rule = {c.target for c in knowledge.rules[step.rule].then if c.effect is Effect.CAUTION} if step.rule else set()
    near = own or is_confirmation(step)
    names = [name for name in raised if near or knowledge.hazards[name].stop]
    for name in sorted(dict.fromkeys((*names, *own)), key=lambda name: not knowledge.hazards[name].stop):
        hazard = knowledge.hazards[name]
        stops = hazard.stop and name in raised
        yield CautionView(hazard, stops, stops or (name not in told and name in {*own, *with_rule}))
