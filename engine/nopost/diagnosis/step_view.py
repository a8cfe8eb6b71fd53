"""An assessment as plain data: the content of `--json`, of reports, and of what a screen shows."""

from __future__ import annotations

from typing import Any

from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.diagnose import Diagnosis
from nopost.diagnosis.effort import Person, action_effort, finding_effort
from nopost.knowledge.model import Effort, Knowledge

ASSESSMENT_VERSION = 1
"""Version of the data; keys are only ever added within one."""


def assessment_data(knowledge: Knowledge, assessment: Diagnosis, person: Person) -> dict[str, Any]:
    """Everything an assessment says, with ids and titles."""
    outcome = assessment.outcome
    conflict = assessment.conflict
    return {
        "knowledge": {"name": knowledge.base.name, "edition": knowledge.base.edition},
        "verdict": assessment.verdict,
        "stopped": assessment.stopped,
        "causes": [
            {"id": cause, "title": knowledge.causes[cause].title, "probability": round(p, 6)} for cause, p in assessment.ranking
        ],
        "unlisted": round(assessment.unlisted, 6),
        "next": step_data(knowledge, assessment.advice.step, person),
        "others": [step_data(knowledge, step, person) for step in assessment.advice.others],
        "plan": [
            {"action": action, "title": knowledge.actions[action].title, "needed": round(share, 6)}
            for action, share in assessment.advice.plan
        ],
        "rules": [
            {"id": f.rule, "because": knowledge.rules[f.rule].because, "support": dict(f.support)} for f in outcome.firings
        ],
        "derived": {finding: {"answer": d.answer, "rule": d.rule} for finding, d in outcome.derived.items()},
        "ruled_out": dict(outcome.ruled_out),
        "contradictions": [
            {"finding": c.finding, "stands": c.stands, "derived": c.derived, "rule": c.rule} for c in outcome.contradictions
        ],
        "cautions": [caution_data(knowledge, name) for name in outcome.cautions],
        "misfits": [{"finding": m.finding, "other": m.other} for m in assessment.misfits],
        "conflict": None
        if conflict is None
        else {"finding": conflict.finding, "answer": conflict.answer, "bits": round(conflict.bits, 3)},
    }


def step_title(knowledge: Knowledge, step: Step) -> str:
    """A step as the person reads it."""
    if step.kind is StepKind.ASK:
        return knowledge.findings[step.id].question
    return knowledge.actions[step.id].title if step.kind is StepKind.DO else knowledge.base.shop.title


def step_effort(knowledge: Knowledge, step: Step, person: Person) -> Effort:
    """What a step takes."""
    if step.kind is StepKind.ASK:
        return finding_effort(knowledge, knowledge.findings[step.id], person)
    if step.kind is StepKind.DO:
        return action_effort(knowledge, knowledge.actions[step.id], person)
    return knowledge.base.shop.effort


def step_hazards(knowledge: Knowledge, step: Step) -> tuple[str, ...]:
    """Hazards whose cautions must be on screen before the step, each once."""
    names: list[str] = []
    if step.kind is StepKind.ASK:
        finding = knowledge.findings[step.id]
        names += knowledge.actions[finding.action].hazards if finding.action else ()
        names += finding.hazards
    elif step.kind is StepKind.DO:
        names += knowledge.actions[step.id].hazards
    return tuple(dict.fromkeys(names))


def step_data(knowledge: Knowledge, step: Step, person: Person) -> dict[str, Any]:
    """A step with its effort and its cautions."""
    effort = step_effort(knowledge, step, person)
    return {
        "kind": str(step.kind),
        "id": step.id,
        "title": step_title(knowledge, step),
        "effort": {"minutes": effort.minutes, "money": effort.money, "risk": effort.risk},
        "cost": round(step.cost, 4),
        "expected_total": round(step.expected_total_cost, 4),
        "chance": round(step.success_probability, 6),
        "cautions": [caution_data(knowledge, name) for name in step_hazards(knowledge, step)],
    }


def caution_data(knowledge: Knowledge, name: str) -> dict[str, Any]:
    """A hazard."""
    hazard = knowledge.hazards[name]
    return {"id": name, "title": hazard.title, "caution": hazard.caution, "stop": hazard.stop}
