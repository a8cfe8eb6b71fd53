"""CPU families that a note says are gained or lost. The phrases are common practice, no source."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from nopost.firmware.notes.families import Families, family_words
from nopost.firmware.notes.sentences import clauses, denied, mends, sentences


@dataclass(frozen=True, slots=True)
class Change:
    """A family gained or lost, by id; `words` of the note."""

    lost: bool
    family: str
    words: str
    known: bool


_CPU = re.compile(r"\b(?:cpus?|processors?|apus?)\b", re.IGNORECASE)
_GROUP = re.compile(r"\b(?:series|famil(?:y|ies)|generations?|gen)\b", re.IGNORECASE)
_NO_CPU = re.compile(
    r"\b(?:memory|dimms?|modules?|graphics|ssds?|drives?|nvme|usb|displays?|monitors?|network|lan"
    r"|languages?|fans?|cameras?|audio|cards?|raid|tpm"
    r"|wireless|bluetooth|boot|power\s+suppl\w+|keyboards?|coolers?|disks?|operating|profiles?)\b",
    re.IGNORECASE,
)
_OBJ = r"(?P<obj>[^.;:!?()]{1,160}?)"
_END = (
    r"(?=\s*(?:$|[.;:!?()](?:\s|$)|\(|,?\s+(?:which|that|when|with|as\s+well|from|in|on|has|have|to\s+(?:the|make|free|save|fit|gain|get)"
    r"|due|because|since|before|after|by|will|needs?|requires?)\b))"
)
_LOST = tuple(
    re.compile(form, re.IGNORECASE)
    for form in (
        rf"\b(?:remov\w+|drop\w*|discontinu\w+|delet\w+|end(?:s|ed)?|los(?:es|t)|withdr\w+|retire[sd]?"
        rf"|without)\s+(?:\w+\s+){{0,2}}?support\s+(?:for|of)\s+{_OBJ}{_END}",
        rf"\bno\s+longer\s+(?:supports?|knows?|works?\s+with|runs?|recogni[sz]es?|compatible\s+with"
        rf"|includes?(?:\s+support\s+for)?)\s+{_OBJ}{_END}",
        rf"\b(?:does|do|will|can)\s+not\s+support\s+{_OBJ}\s+any\s?(?:more|longer)\b",
        rf"\bsupport\s+(?:for|of)\s+{_OBJ}\s+(?:is|was|has\s+been|have\s+been|are|were)\s+(?:now\s+)?"
        rf"(?:removed|dropped|discontinued|ended|deleted|withdrawn)",
        rf"(?:^|[,:]\s*){_OBJ}\s+(?:(?:is|are)\s+(?:no\s+longer|not\s+any\s?more)\s+(?:supported|known)|(?:is"
        rf"|are|was|were)\s+(?:dropped|removed|not\s+supported\s+any\s?(?:more|longer)))",
        rf"\b(?:removes?|removed|drops?|dropped)\s+(?:the\s+)?(?P<near>)(?:cpu\s+(?:support|family|families"
        rf"|series)\s*:?\s+)?{_OBJ}{_END}",
    )
)
_GAINED = tuple(
    re.compile(form, re.IGNORECASE)
    for form in (
        rf"\b(?:add(?:s|ed|ing)?|introduc\w+|enabl\w+|provid\w+|bring\w*|gain\w*|include[sd]?|new|initial"
        rf"|preliminary|first|full|beta|early|extend\w*|expand\w*)\s+(?:[\w-]+\s+){{0,3}}?support\s+(?:for"
        rf"|of)\s+{_OBJ}{_END}",
        rf"\bsupport(?:\s+is|\s+was|\s+has\s+been)?\s+(?:added\s+)?(?:for|of)\s+{_OBJ}\s+(?:is|was|has\s+been"
        rf"|were)?\s*(?:now\s+)?(?:added|new|introduced|available|included)\b",
        rf"\bsupport\s+added\s+(?:for|of)\s+{_OBJ}{_END}",
        rf"\b(?:cpus?|processors?)\s+support(?:\s+(?:list|added|new))?\s*(?::|for|-)\s*{_OBJ}{_END}",
        rf"\bnew\s+(?:cpus?|processors?|cpu\s+famil(?:y|ies))(?:\s+supported)?\s*:\s*{_OBJ}{_END}",
        rf"\b(?:now\s+)?(?:supports?|knows?|recogni[sz]es|compatible\s+with|ready\s+for)\s+(?!for\s)(?:also\s+)?{_OBJ}{_END}",
        rf"^\W{{0,4}}support\s+(?:for|of)?\s*{_OBJ}{_END}",
        rf"\b(?:add(?:s|ed)?|new|introduces?)\s+(?P<near>){_OBJ}\s+(?:cpu|processor)s?\s+support\b",
        rf"\b(?:add(?:s|ed)?|introduces?)\s+(?P<near>)(?:the\s+)?{_OBJ}{_END}",
        rf"(?:^|[,:]\s*){_OBJ}\s+(?:is|are)\s+(?:now\s+)?(?:supported|known)\b",
    )
)


def changes(notes: str, families: Families) -> Iterator[Change]:
    """Families gained and lost, each once."""
    seen: set[tuple[bool, str]] = set()
    for sentence in sentences(notes):
        for clause in clauses(sentence):
            for change in _of_clause(clause, sentence, families):
                if (change.lost, change.family) not in seen:
                    seen.add((change.lost, change.family))
                    yield change


def _of_clause(clause: str, sentence: str, families: Families) -> Iterator[Change]:
    for lost, forms in ((True, _LOST), (False, _GAINED)):
        for form in forms:
            found = form.search(clause)
            if not found or not _sound(lost, clause, found):
                continue
            names = list(_families(found, clause, families))
            yield from (Change(lost, name, sentence, known) for name, known in names)
            if names:
                return
        if lost and any(form.search(clause) for form in _LOST[:4]):
            return


def _sound(lost: bool, clause: str, found: re.Match[str]) -> bool:
    before = clause[: found.start()]
    if mends(before) or mends(found[0][:12]):
        return False
    if lost:
        return not denied(before)
    return not denied(before[-40:]) and not re.search(r"\b(?:no\s+longer|not|yet|more\s+than|no)\b", found[0], re.I)


def _families(found: re.Match[str], clause: str, families: Families) -> Iterator[tuple[str, bool]]:
    """Ids of the object, when the clause speaks of CPUs or the name is a known one."""
    items = list(family_words(found["obj"], families))
    speaks = bool(_CPU.search(clause)) or bool(_GROUP.search(found["obj"]) and not _NO_CPU.search(clause))
    for name, known in items:
        if known or (speaks and not ("near" in found.groupdict() and not _CPU.search(clause))):
            yield name, known
