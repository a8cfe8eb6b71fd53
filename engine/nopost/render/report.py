"""A session written down, to paste into a message or to hand to a shop: Markdown or HTML from one list of sections."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from nopost import __version__
from nopost.diagnosis.diagnose import Diagnosis
from nopost.diagnosis.firmware_offer import PlanOffer, offer_data, offer_lines, plan_offer
from nopost.diagnosis.history import EventKind, Session
from nopost.diagnosis.step_view import assessment_data, step_title
from nopost.knowledge.model import Knowledge
from nopost.render.documents import html_document, markdown_document

LEADING_CAUSES = 5
OUTCOME_WORDS = {"same": "nothing changed", "changed": "something else is seen now"}
END_SENTENCES = {
    "cause-found": "The cause is found; it goes to a shop.",
    "no-listed-cause": "No listed cause fits; it goes to a shop.",
    "shop": "It goes to a shop.",
}


def outcome_words(knowledge: Knowledge, value: str) -> str:
    """What came of a fix, within a sentence."""
    return knowledge.base.words.it_works if value == "starts" else OUTCOME_WORDS.get(value, value)


def end_line(knowledge: Knowledge, value: str) -> str:
    """How a session ended, as a sentence."""
    return f"{knowledge.base.words.works}." if value == "starts" else END_SENTENCES.get(value, value)


@dataclass(frozen=True, slots=True)
class ReportSection:
    """A heading and lines of a list."""

    title: str
    lines: tuple[str, ...]


def report_sections(knowledge: Knowledge, session: Session, assessment: Diagnosis) -> list[ReportSection]:
    """What a report says, in order; empty sections are left out."""
    end = session.end
    offer = None if end and end.value == "starts" else plan_offer(knowledge, session, assessment)
    sections = [
        ReportSection("State", (end_line(knowledge, end.value) if end else _open(knowledge),)),
        ReportSection("Machine", tuple(f"{key}: {value}" for key, value in session.machine.items())),
        ReportSection("Most probable causes", _causes(knowledge, session, assessment)),
        ReportSection("Seen", tuple(_seen(knowledge, session))),
        ReportSection("Tried", tuple(_tried(knowledge, session))),
        ReportSection("Dropped, since this edition does not know it", session.dropped),
        ReportSection("Next step", () if end else (step_title(knowledge, assessment.advice.step),)),
        ReportSection("Firmware plan", tuple(_offered(offer))),
        ReportSection("Cautions", tuple(knowledge.hazards[h].caution for h in assessment.outcome.cautions)),
        ReportSection("To tell and bring", knowledge.base.shop.hand_over if end and end.value != "starts" else ()),
        ReportSection("Before calling it well", knowledge.base.proof if end and end.value == "starts" else ()),
    ]
    return [section for section in sections if section.lines]


def _open(knowledge: Knowledge) -> str:
    return f"Open: {knowledge.base.words.it_fails} yet."


def _offered(offer: PlanOffer | None) -> list[str]:
    return [] if offer is None else [*offer_lines(offer), f"In full: {offer.command}"]


def _causes(knowledge: Knowledge, session: Session, assessment: Diagnosis) -> tuple[str, ...]:
    end = session.end
    if end and end.value == "starts" and end.item in knowledge.causes:
        return (f"{knowledge.causes[end.item].title} (mended)",)
    lines = [f"{p:.0%} {knowledge.causes[c].title}" for c, p in assessment.ranking[:LEADING_CAUSES] if p >= 0.005]
    return (*lines, f"{assessment.unlisted:.0%} something that is not listed")


def _seen(knowledge: Knowledge, session: Session) -> list[str]:
    latest = {e.item: e.value for e in session.events if e.kind is EventKind.ANSWER}
    findings = knowledge.findings
    return [f"{findings[f].title}: {findings[f].answer_text(answer)}" for f, answer in latest.items()]


def _tried(knowledge: Knowledge, session: Session) -> list[str]:
    lines = []
    for event in session.events:
        if event.kind is EventKind.TRIED:
            lines.append(f"{knowledge.actions[event.item].title}: {outcome_words(knowledge, event.value)}")
        elif event.kind is EventKind.SKIPPED:
            lines.append(f"{knowledge.actions[event.item].title}: not possible here")
    return lines


def report_data(knowledge: Knowledge, session: Session, assessment: Diagnosis) -> dict[str, Any]:
    """The report as plain data."""
    return {
        "name": session.name,
        "created": session.created,
        "machine": dict(session.machine),
        "facts": dict(session.facts),
        "events": [{"kind": str(e.kind), "item": e.item, "value": e.value, "at": e.at} for e in session.events],
        "dropped": list(session.dropped),
        "assessment": assessment_data(knowledge, assessment, session.person),
        "records": dict(session.records),
        "firmware_plan": offer_data(plan_offer(knowledge, session, assessment)),
    }


def markdown_report(knowledge: Knowledge, session: Session, assessment: Diagnosis) -> str:
    """The report in Markdown."""
    return markdown_document("report.md", **_values(knowledge, session, assessment))


def html_report(knowledge: Knowledge, session: Session, assessment: Diagnosis) -> str:
    """The report as one HTML page that prints well in black and white."""
    return html_document("report.html", **_values(knowledge, session, assessment))


def _values(knowledge: Knowledge, session: Session, assessment: Diagnosis) -> dict[str, Any]:
    """What both templates are given."""
    return {
        "title": f"{knowledge.base.words.machine}: {session.name}",
        "sections": [(section.title, section.lines) for section in report_sections(knowledge, session, assessment)],
        "footer": _footer(knowledge, session),
    }


def _footer(knowledge: Knowledge, session: Session) -> str:
    base = knowledge.base
    return (
        f"Written by nopost {__version__} from the knowledge base {base.name}, edition {base.edition}; begun {session.created}."
    )
