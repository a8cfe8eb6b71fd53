"""A diagnosis as plain data: the content of `--json` and of kept reports. Keys are only ever added within one version."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from nopost.diagnosis.advice.adviser import Step
from nopost.diagnosis.cautions import CautionView, cautions_of
from nopost.diagnosis.diagnose import Diagnosis
from nopost.diagnosis.history import Person
from nopost.diagnosis.inventory import EntryView
from nopost.diagnosis.step_view import step_effort, step_title
from nopost.knowledge.model import Effort, Knowledge


def diagnosis_data(knowledge: Knowledge, diagnosis: Diagnosis, person: Person) -> dict[str, Any]:
    """Everything a diagnosis says, with ids and titles."""
    inference, conflict, advice = diagnosis.inference, diagnosis.conflict, diagnosis.advice
    return {
        "knowledge": {"name": knowledge.base.name, "edition": knowledge.base.edition},
        "verdict": diagnosis.verdict,
        "stopped": diagnosis.stopped,
        "causes": [
            {"id": cause, "title": knowledge.causes[cause].title, "probability": round(p, 6)} for cause, p in diagnosis.remaining
        ],
        "areas": [
            {"id": area, "title": knowledge.base.area_titles[area], "probability": round(p, 6)} for area, p in diagnosis.areas
        ],
        "unlisted": round(diagnosis.unlisted, 6),
        "next": step_data(knowledge, diagnosis, advice.step, person),
        "others": [step_data(knowledge, diagnosis, step, person) for step in advice.others],
        "plan": [
            {"action": action, "title": knowledge.actions[action].title, "needed": round(share, 6)}
            for action, share in advice.plan
        ],
        "rules": [
            {"id": f.rule, "because": knowledge.rules[f.rule].because, "support": dict(f.support)} for f in inference.firings
        ],
        "derived": {finding: {"answer": d.answer, "rule": d.rule} for finding, d in inference.derived.items()},
        "ruled_out": dict(inference.ruled_out),
        "contradictions": [
            {"finding": c.finding, "stands": c.stands, "derived": c.derived, "rule": c.rule} for c in inference.contradictions
        ],
        "cautions": [
            {"id": name, "title": (h := knowledge.hazards[name]).title, "caution": h.caution, "stop": h.stop}
            for name in inference.cautions
        ],
        "misfits": [{"finding": pair.finding, "other": pair.other} for pair in diagnosis.inconsistent],
        "conflict": None
        if conflict is None
        else {"finding": conflict.finding, "answer": conflict.answer, "bits": round(conflict.bits, 3)},
    }


def step_data(knowledge: Knowledge, diagnosis: Diagnosis, step: Step, person: Person) -> dict[str, Any]:
    """A step with its effort and its cautions, the same that every face shows."""
    return {
        "kind": str(step.kind),
        "id": step.id,
        "title": step_title(knowledge, step),
        "together": list(step.together),
        "again": step.again,
        "effort": effort_data(step_effort(knowledge, step, diagnosis.seen.ready, person)),
        "cost": round(step.cost, 4),
        "expected_total": round(step.expected_total_cost, 4),
        "chance": round(step.success_probability, 6),
        "cautions": [caution_data(caution) for caution in cautions_of(knowledge, diagnosis, step)],
    }


def inventory_data(inventory: Sequence[EntryView]) -> list[dict[str, Any]]:
    """What is there: each entry with its choices, and what told it, if anything did."""
    return [
        {
            "id": entry.id,
            "question": entry.question,
            "choices": [{"id": choice, "text": text} for choice, text in entry.choices],
            "told": entry.told or None,
            "by": entry.by and str(entry.by),
        }
        for entry in inventory
    ]


def effort_data(effort: Effort) -> dict[str, float]:
    """An effort."""
    return {"minutes": effort.minutes, "money": effort.money, "risk": effort.risk}


def caution_data(caution: CautionView) -> dict[str, Any]:
    """A caution before a step."""
    hazard = caution.hazard
    return {
        "id": hazard.id,
        "title": hazard.title,
        "caution": hazard.caution,
        "stop": hazard.stop,
        "stops_now": caution.stops,
        "in_full": caution.in_full,
    }
