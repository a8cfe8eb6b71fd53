"""A session written down, to paste into a message or to hand to a shop: Markdown or HTML from one list of sections."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from nopost import __version__
from nopost.diagnosis.diagnose import Diagnosis
from nopost.diagnosis.diagnosis_data import diagnosis_data, inventory_data
from nopost.diagnosis.firmware_offer import PlanOffer, offer_data, offer_lines
from nopost.diagnosis.history_words import end_sentence, seen_lines, tried_lines
from nopost.diagnosis.inventory import EntryView, ToldBy, person_here
from nopost.diagnosis.parts_facts import machine_words
from nopost.diagnosis.step_view import StepView
from nopost.knowledge.model import Knowledge
from nopost.render.documents import html_document, markdown_document
from nopost.store.sessions import Session, event_data

LEADING_CAUSES = 5
LEAST_SHOWN = 0.005


@dataclass(frozen=True, slots=True)
class ReportSection:
    """A heading and lines of a list."""

    title: str
    lines: tuple[str, ...]


def report_sections(knowledge: Knowledge, session: Session, diagnosis: Diagnosis, view: StepView) -> list[ReportSection]:
    """What a report says, in order; empty sections are left out."""
    history = session.history
    end, starts = history.end, history.end is not None and history.end.value == "starts"
    sections = [
        ReportSection("State", (end_sentence(knowledge, end.value) if end else _open(knowledge),)),
        ReportSection("Machine", tuple(f"{key}: {value}" for key, value in machine_words(history.parts, knowledge).items())),
        ReportSection("What is there", tuple(_there(view.inventory))),
        ReportSection("Where the trouble is", () if starts else _areas(view)),
        ReportSection("Most probable causes", _causes(knowledge, session, diagnosis)),
        ReportSection("Seen", tuple(seen_lines(knowledge, history))),
        ReportSection("Tried", tuple(tried_lines(knowledge, history))),
        ReportSection("Dropped, since this edition does not know it", session.dropped),
        ReportSection("Left out of the records", view.record_problems),
        ReportSection("Next step", () if end else (view.title,)),
        ReportSection("Firmware plan", () if starts else tuple(_offered(view.offer))),
        ReportSection("Cautions", _cautions(knowledge, diagnosis, view)),
        ReportSection("To tell and bring", knowledge.base.shop.hand_over if end and not starts else ()),
        ReportSection("Before calling it well", knowledge.base.proof if starts else ()),
    ]
    return [section for section in sections if section.lines]


def _cautions(knowledge: Knowledge, diagnosis: Diagnosis, view: StepView) -> tuple[str, ...]:
    """The cautions before the step that comes next; once it has ended, what was raised on the way."""
    hazards = [caution.hazard for caution in view.cautions]
    hazards += [knowledge.hazards[name] for name in diagnosis.inference.cautions]
    return tuple(dict.fromkeys(hazard.caution for hazard in hazards))


def _open(knowledge: Knowledge) -> str:
    return f"Open: {knowledge.base.words.it_fails} yet."


def _offered(offer: PlanOffer | None) -> list[str]:
    return [] if offer is None else [*offer_lines(offer), f"In full: {offer.command}"]


def _there(inventory: Sequence[EntryView]) -> Iterator[str]:
    """What is known of what is there, and by what when nobody said it of the entry itself."""
    known_by = {ToldBy.ANSWER: " (by an answer)", ToldBy.RECORD: " (by the board's record)"}
    for entry in inventory:
        if entry.by:
            yield f"{entry.question}: {entry.told_text}{known_by.get(entry.by, '')}"


def _areas(view: StepView) -> tuple[str, ...]:
    """The areas that are not negligible."""
    return tuple(f"{area.probability:.0%} {area.title}" for area in view.areas if area.probability >= LEAST_SHOWN)


def _causes(knowledge: Knowledge, session: Session, diagnosis: Diagnosis) -> tuple[str, ...]:
    end = session.history.end
    if end and end.value == "starts" and end.item in knowledge.causes:
        return (f"{knowledge.causes[end.item].title} (mended)",)
    lines = [f"{p:.0%} {knowledge.causes[c].title}" for c, p in diagnosis.remaining[:LEADING_CAUSES] if p >= LEAST_SHOWN]
    return (*lines, f"{diagnosis.unlisted:.0%} something that is not listed")


def report_data(knowledge: Knowledge, session: Session, diagnosis: Diagnosis, view: StepView) -> dict[str, Any]:
    """The report as plain data."""
    parts = session.history.parts
    return {
        "name": session.name,
        "created": session.created,
        "machine": machine_words(parts, knowledge),
        "facts": dict(diagnosis.seen.facts),
        "events": [event_data(event) for event in session.history.events],
        "dropped": list(session.dropped),
        "assessment": diagnosis_data(knowledge, diagnosis, person_here(knowledge, parts, diagnosis.seen.facts)),
        "there": inventory_data(view.inventory),
        "records": {**parts.named(), **({"kb": session.kb} if session.kb else {})},
        "firmware_plan": offer_data(view.offer),
    }


def markdown_report(knowledge: Knowledge, session: Session, diagnosis: Diagnosis, view: StepView) -> str:
    """The report in Markdown."""
    return markdown_document("report.md", **_values(knowledge, session, diagnosis, view))


def html_report(knowledge: Knowledge, session: Session, diagnosis: Diagnosis, view: StepView) -> str:
    """The report as one HTML page that prints well in black and white."""
    return html_document("report.html", **_values(knowledge, session, diagnosis, view))


def _values(knowledge: Knowledge, session: Session, diagnosis: Diagnosis, view: StepView) -> dict[str, Any]:
    """What both templates are given."""
    return {
        "title": f"{knowledge.base.words.machine}: {session.name}",
        "sections": [(section.title, section.lines) for section in report_sections(knowledge, session, diagnosis, view)],
        "footer": _footer(knowledge, session),
    }


def _footer(knowledge: Knowledge, session: Session) -> str:
    base = knowledge.base
    return (
        f"Written by nopost {__version__} from the knowledge base {base.name}, edition {base.edition}; begun {session.created}."
    )
