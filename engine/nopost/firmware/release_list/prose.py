"""Prose of release notes: sentences, what turns their meaning (negation, mended faults), and names of CPU families as
ids, the known ones recognised.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from nopost.knowledge.reference_records import Board, Cpu

MOST = 8
"""So many families are taken from one phrase."""
_LIST = re.compile(r"\s*(?:,\s*(?:and|or)?\s+|,|/|&|\s+(?:and|or|plus|as\s+well\s+as)\s+)\s*", re.IGNORECASE)
_STOP = re.compile(
    r"\b(?:the|an?|all|any|some|more|other|new|newer|newest|latest|next|upcoming|future|several|further"
    r"|additional|cpus?|processors?|apus?|series|famil(?:y|ies)"
    r"|desktop|models?|chips?|type|based|of|for|to|support(?:ed)?|list|generations?|gen|both|parts?|now"
    r"|also|code|named|codenamed|cores?|unlocked|boxed|oldest|older|old)\b",
    re.IGNORECASE,
)
_ORDINAL = re.compile(r"\b(\d{1,2})(?:st|nd|rd|th)\b", re.IGNORECASE)
_ORDINALS = {"first": "1", "second": "2", "third": "3", "fourth": "4", "fifth": "5", "sixth": "6", "seventh": "7", "eighth": "8"}
_NO_NAME = re.compile(
    r"\d{1,4}(?:[kmg]b|[mg]hz|w|v|bit|core)?|(?:[a-z]+-){0,2}(?:memory|kits?|ddr\d|usb|microcode"
    r"|features?|options?|menu|fans?|speeds?|boot|modules?)(?:-\w+){0,3}",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Families:
    """`ids`: families that are known; `members`: key of a CPU's name -> its family."""

    ids: frozenset[str] = frozenset()
    members: Mapping[str, str] = field(default_factory=dict)


def known_families_of(cpus: Iterable[Cpu], boards: Iterable[Board] = ()) -> Families:
    """Families of CPU records and of board records."""
    cpus = list(cpus)
    ids = {cpu.family for cpu in cpus}
    for board in boards:
        ids |= {*board.first_families, *(name for release in board.releases for name in (*release.adds, *release.drops))}
    return Families(frozenset(ids), {family_id(name): cpu.family for cpu in cpus for name in (cpu.id, cpu.title.split(",")[0])})


def family_id(words: str) -> str:
    """An id from words: small letters, digits, single hyphens."""
    return "-".join(re.findall(r"[a-z0-9]+", words.lower()))[:60].strip("-")


def family_words(text: str, families: Families) -> Iterator[tuple[str, bool]]:
    """Ids of the families that are listed in a phrase, and whether each is known."""
    last = ""
    for part in _LIST.split(text)[:MOST]:
        bare = _bare(part)
        if bare.isdigit() and last and re.search(r"\d", last):  # "Kelp 3 and 4": the name stands once
            bare = re.sub(r"\d+(?!.*\d)", bare, last)
        name, known = _known(bare, families)
        if known or _names(name, bare):
            last = bare
            yield name, known


def _bare(part: str) -> str:
    """The name alone; "3rd generation Kelp" is Kelp 3."""
    part = re.sub(r"\b(" + "|".join(_ORDINALS) + r")\b(?=[\s-]+gen)", lambda m: _ORDINALS[m[1].lower()] + "th", part, flags=re.I)
    ordinal = _ORDINAL.search(part)
    words = " ".join(_STOP.sub(" ", _ORDINAL.sub(" ", part)).split()).strip(" -'\"")
    return f"{words} {ordinal[1]}".strip() if ordinal and words else words


def _known(bare: str, families: Families) -> tuple[str, bool]:
    name = family_id(bare)
    if name in families.ids:
        return name, True
    if name in families.members:
        return families.members[name], True
    joined = {each.replace("-", ""): each for each in families.ids}
    if name.replace("-", "") in joined:
        return joined[name.replace("-", "")], True
    return name, False


def _names(name: str, bare: str) -> bool:
    """Whether it can be a name: letters, few words, a capital or a digit in it."""
    if not name or not re.search(r"[a-z]", name) or len(bare.split()) > 4 or _NO_NAME.fullmatch(name):
        return False
    return any(c.isdigit() or c.isupper() for c in bare)


LONGEST = 400
"""Characters of a sentence; longer ones are cut, so that no phrase is searched in more."""
_ENDS = re.compile(r"(?<=[.!?])[\"')\]]*\s+(?=\S)|\n+|\s*;\s+|\s+[•*·‣]\s+")
_CLAUSE = re.compile(
    r",?\s+(?:and|but|while|also|then|it|which)\s+(?:also\s+|now\s+)?(?=(?:remov|drop|no longer|add(?:s"
    r"|ed)?\s|discontinu|fix|improv|updat|resolv"
    r"|requir|cannot|can not|enhanc|correct|mend|chang|delet|lose)\w*)"
    r"|,\s+(?=(?:remov(?:es|ed|ing)|drop(?:s|ped)|no longer|adds|added|fix(?:es|ed)|improv(?:es|ed)"
    r"|updat(?:es|ed)|resolv(?:es|ed))\b)",
    re.IGNORECASE,
)
_ABBREVIATED = re.compile(r"\b(?:ver|rev|no|vs|e\.g|i\.e|incl|min|max)\.$", re.IGNORECASE)
_MENDS = re.compile(
    r"\b(?:fix(?:e[sd]|ing)?|resolv(?:e[sd]?|ing)|correct(?:s|ed)?|mend(?:s|ed)?|solv(?:es?|ed)|repair(?:s|ed)?|address(?:es|ed)"
    r"|improv(?:e[sd]?|ing|ements?)|enhanc(?:e[sd]?|ing|ements?)|optimi[sz](?:e[sd]?|ing))\b",
    re.IGNORECASE,
)
_NOT = re.compile(r"\b(?:not|no|never|without|cannot|needn't|\w+n't|neither|nor)\b", re.IGNORECASE)


def sentences(notes: str) -> Iterator[str]:
    """Sentences and bullets, each at most so long."""
    begin = ""
    for part in _ENDS.split(notes):
        part = f"{begin} {part}".strip() if begin else part.strip()
        begin = ""
        if _ABBREVIATED.search(part[-8:]) and len(part) < LONGEST:
            begin = part
            continue
        yield from (part[i : i + LONGEST] for i in range(0, len(part), LONGEST))
    if begin:
        yield begin


def clauses(sentence: str) -> Iterator[str]:
    """A sentence cut where another thing is said to be done."""
    for part in _CLAUSE.split(sentence):
        if part and part.strip():
            yield part.strip()


def mends(words: str) -> bool:
    """Whether the words are about a fault mended or something made better, and not about support gained."""
    return bool(_MENDS.search(words))


def denied(words: str) -> bool:
    """Whether the words hold a negation (not, no longer, without …)."""
    return bool(_NOT.search(words))
