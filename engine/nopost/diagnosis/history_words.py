"""A history in words: events, what was seen and tried, outcomes and ends, pieces of evidence. All faces say the same."""

from __future__ import annotations

from collections.abc import Iterator

from nopost.diagnosis.belief.explanation import WeightOfEvidence
from nopost.diagnosis.history import Event, EventKind, History
from nopost.diagnosis.replay import event_answers
from nopost.knowledge.model import Knowledge

OUTCOME_WORDS = {"same": "nothing changed", "changed": "something else is seen now"}
END_WORDS = {
    "cause-found": "The cause is found; it goes to a shop.",
    "no-listed-cause": "No listed cause fits; it goes to a shop.",
    "shop": "It goes to a shop.",
}
LONGEST_QUOTE = 60
"""Characters of pasted codes that are quoted in a line."""


def outcome_words(knowledge: Knowledge, outcome: str) -> str:
    """What came of a fix, within a sentence."""
    return knowledge.base.words.it_works if outcome == "starts" else OUTCOME_WORDS.get(outcome, outcome)


def end_sentence(knowledge: Knowledge, end: str) -> str:
    """How it ended, as a sentence."""
    return f"{knowledge.base.words.works}." if end == "starts" else END_WORDS.get(end, end)


def answer_words(knowledge: Knowledge, finding: str, answer: str) -> str:
    """A finding with its answer, as titles."""
    item = knowledge.findings[finding]
    return f"{item.title}: {item.answer_text(answer)}"


def evidence_words(knowledge: Knowledge, weight: WeightOfEvidence) -> str:
    """One piece of evidence."""
    if weight.kind == "answer":
        return answer_words(knowledge, weight.name, weight.answer)
    if weight.kind == "again":
        return f"Looked again: {answer_words(knowledge, weight.name, weight.answer)}"
    if weight.kind == "tried":
        return f"Did not help: {knowledge.actions[weight.name].title}"
    if weight.kind == "outcome":
        return f"After it, {OUTCOME_WORDS[weight.answer]}: {knowledge.actions[weight.name].title}"
    if weight.kind == "rule":
        return f"Rule: {knowledge.rules[weight.name].title}"
    return "Causes ruled out"


def event_words(knowledge: Knowledge, event: Event) -> str:
    """An event in one line."""
    match event.kind:
        case EventKind.ANSWER:
            return answer_words(knowledge, event.item, event.value)
        case EventKind.LOOKED_AGAIN:
            return f"Looked again: {answer_words(knowledge, event.item, event.value)}"
        case EventKind.CODES:
            return f"codes {quoted(event.text)}"
        case EventKind.READINGS:
            return f"readings {quoted(event.text)}"
        case EventKind.TRIED | EventKind.SKIPPED:
            return knowledge.actions[event.item].title
    return "the end"


def quoted(text: str) -> str:
    """A text in one line and in quotation marks, cut where it is long."""
    line = " ".join(text.split())
    return f"“{line if len(line) <= LONGEST_QUOTE else line[: LONGEST_QUOTE - 1] + '…'}”"


def seen_lines(knowledge: Knowledge, history: History) -> Iterator[str]:
    """All that was seen, a line for each finding with its latest answer; before what codes or readings told, these themselves."""
    latest: dict[str, str] = {}
    for event in history.events:
        answers = event_answers(event, knowledge)
        if event.kind in (EventKind.CODES, EventKind.READINGS):
            latest[f"{event.kind} {event.at} {event.text}"] = _source_line(knowledge, event)
        for finding, answer in answers.items():
            latest[finding] = answer_words(knowledge, finding, answer)
    yield from latest.values()


def _source_line(knowledge: Knowledge, event: Event) -> str:
    """Codes or readings as they came, and the table they were read with when one was named."""
    what = "Codes" if event.kind is EventKind.CODES else "Readings"
    table = knowledge.codes.get(event.item)
    return f"{what}: {quoted(event.text)}{f' (table {table.title})' if table else ''}"


def tried_lines(knowledge: Knowledge, history: History) -> Iterator[str]:
    """What was tried with what came of it, and what could not be done, in order."""
    for event in history.of_kind(EventKind.TRIED, EventKind.SKIPPED):
        came = outcome_words(knowledge, event.value) if event.kind is EventKind.TRIED else "not possible here"
        yield f"{knowledge.actions[event.item].title}: {came}"
