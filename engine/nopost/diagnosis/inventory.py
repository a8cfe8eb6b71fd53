"""What is there: the machine's inventory, asked once, and what follows from it for facts, tools and faces.

An entry of the inventory is a fact with a few choices (`nopost.knowledge.model.InventoryEntry`). Three things tell it, the later
ones go before: the board's record, answers to questions (a part that is said to be absent is not there), and the person, who
says it of the entry itself. What nobody tells is not known and closes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from nopost.diagnosis.belief.evidence import Report
from nopost.diagnosis.history import Parts, Person
from nopost.errors import UnknownNameError
from nopost.knowledge.model import InventoryEntry, Knowledge


class ToldBy(StrEnum):
    """What told an entry."""

    PERSON = "person"
    ANSWER = "answer"
    RECORD = "record"


@dataclass(frozen=True, slots=True)
class EntryView:
    """An entry as a face shows it: `choices` as (id, text); `told`: the choice that holds, "" while it is not known; `by`: who
    told it, None while nobody did."""

    id: str
    question: str
    choices: tuple[tuple[str, str], ...]
    told: str = ""
    by: ToldBy | None = None

    @property
    def told_text(self) -> str:
        """The choice that holds, as it is read; "" while it is not known."""
        return dict(self.choices).get(self.told, "")


def check_there(knowledge: Knowledge, there: Mapping[str, str]) -> None:
    """Raise UnknownNameError when what is told to be there (entry -> choice) names no entry, or no choice of it."""
    for entry, choice in there.items():
        if entry not in knowledge.base.inventory:
            raise UnknownNameError("entry of what is there", entry, knowledge.base.inventory)
        choices = knowledge.base.inventory[entry].choices
        if choice not in choices:
            raise UnknownNameError(f"choice for {entry}", choice, choices)


def parts_of_answers(knowledge: Knowledge, answers: Mapping[str, str]) -> dict[str, str]:
    """What answers tell of what is there.

    Args:
        knowledge: the knowledge base, whose `inventory` says which answers tell which choice.
        answers: finding -> answer, `absent` and `unknown` among them; ids that the knowledge base does not have tell nothing.

    Returns:
        Entry -> choice, in the order of the inventory. Entries of which the answers say nothing, or two different things, are
        left out.
    """
    told = {name: _choices_told(entry, answers) for name, entry in knowledge.base.inventory.items()}
    return {name: choices[0] for name, choices in told.items() if len(choices) == 1}


def _choices_told(entry: InventoryEntry, answers: Mapping[str, str]) -> list[str]:
    """The choices that some answer tells."""
    return [name for name, choice in entry.choices.items() if any(answers.get(c.name) in c.values for c in choice.told_by)]


def latest_answers(reports: Iterable[Report]) -> dict[str, str]:
    """Finding -> the latest answer to it. What is there stays there: an answer counts even when a fix has made it doubtful."""
    return {report.finding: report.answer for report in reports if report.tells or not report.again}


def facts_here(knowledge: Knowledge, parts: Parts, answers: Mapping[str, str], records: Mapping[str, str]) -> dict[str, str]:
    """Fact -> value, of the records and of the inventory.

    `answers`: finding -> latest answer. `records`: what the records of the parts settle.
    """
    return {**records, **parts_of_answers(knowledge, answers), **_known(knowledge, parts.there)}


def _known(knowledge: Knowledge, there: Mapping[str, str]) -> dict[str, str]:
    """Without what this knowledge base does not have, as in the session of another edition."""
    inventory = knowledge.base.inventory
    return {name: choice for name, choice in there.items() if name in inventory and choice in inventory[name].choices}


def person_here(knowledge: Knowledge, parts: Parts, facts: Mapping[str, str]) -> Person:
    """Who is at the machine, with the old parts that are at hand by what is there."""
    tools: set[str] = set()
    for name, entry in knowledge.base.inventory.items():
        if choice := entry.choices.get(facts.get(name, "")):
            tools.update(choice.tools)
    return replace(parts.person, at_hand=parts.at_hand | tools)


def inventory_view(
    knowledge: Knowledge, parts: Parts, answers: Mapping[str, str], records: Mapping[str, str]
) -> tuple[EntryView, ...]:
    """All entries with what is known of them; arguments as for `facts_here`."""
    sources = (
        (ToldBy.PERSON, _known(knowledge, parts.there)),
        (ToldBy.ANSWER, parts_of_answers(knowledge, answers)),
        (ToldBy.RECORD, records),
    )
    views = []
    for name, entry in knowledge.base.inventory.items():
        by = next((by for by, told in sources if name in told), None)
        told = dict(sources)[by][name] if by else ""
        choices = tuple((choice_id, choice.text) for choice_id, choice in entry.choices.items())
        views.append(EntryView(name, entry.question, choices, told, by))
    return tuple(views)
