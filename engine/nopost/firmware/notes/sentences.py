"""Notes cut into sentences, and what turns their meaning: negation, mended faults, other things than firmware."""

from __future__ import annotations

import re
from collections.abc import Iterator

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
    """Whether it tells of a fault mended or of something made better."""
    return bool(_MENDS.search(words))


def denied(words: str) -> bool:
    """Whether it is said that something is not so."""
    return bool(_NOT.search(words))
