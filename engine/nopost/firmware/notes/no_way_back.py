"""Whether a note says that nothing older can be written afterwards. The phrases are common practice, no source."""

from __future__ import annotations

import re

from nopost.firmware.notes.sentences import mends, sentences

_BACK = (
    r"(?:go(?:ing)?\s+back|roll(?:ed|ing)?[\s-]*back|down[\s-]?grad(?:e|ed|es|ing)|revert(?:ed|ing)?"
    r"|return(?:ed|ing)?|back[\s-]?flash(?:ed|ing)?"
    r"|flash(?:ed|ing)?\s+back|(?:switch|chang|mov)(?:e|ed|ing)?\s+back|undone|reversed)"
)
_OLDER = (
    r"(?:older|earlier|previous|prior|preceding|lower)\s+(?:firmware|bios|uefi)?\s*(?:versions?|releases?"
    r"|images?|firmware|bios|ones?|updates?)"
)
_CANNOT = (
    r"(?:cannot|can\s?not|can\s+no\s+longer|can't|unable|impossible|not\s+(?:be\s+)?(?:able|possible"
    r"|allowed|permitted|supported)|no\s+longer\s+(?:be\s+)?(?:able|possible|allowed)|won't|will\s+not)"
)
_GONE = (
    r"(?:impossible|blocked|prevented|prohibited|forbidden|disabled|refused|(?:not|no\s+longer)\s+"
    r"(?:be\s+)?(?:possible|supported|allowed|permitted|available|accepted))"
)
_FORMS = tuple(
    re.compile(form, re.IGNORECASE)
    for form in (
        rf"\b{_CANNOT}\b(?:\s+\w+){{0,4}}?\s+{_BACK}\b",
        rf"\b{_CANNOT}\b(?:\s+\w+){{0,5}}?\s+(?:to\s+)?(?:an?\s+|any\s+|the\s+)?{_OLDER}",
        rf"\b(?:{_BACK}|roll-?back)s?\b(?:\s+(?:to|from|the|an?|any|of|or|and|earlier|older|{_OLDER}|this|version|release|firmware"
        rf"|bios|[\w.\-]*\d[\w.\-]*)){{0,8}}\s+(?:is|are|will|would)?\s*(?:be\s+)?{_GONE}",
        rf"\b{_OLDER}\s+(?:can\s?not|can\s+no\s+longer|can't|are|is|will\s+not|won't)\s+(?:be\s+)?"
        rf"(?:longer\s+)?(?:installed|flashed|written|used|restored|accepted|{_GONE})",
        rf"\bno\s+(?:{_OLDER}|{_BACK}|way\s+back|return)\b(?!\s+(?:is\s+)?(?:needed|required|necessary))",
        rf"\b(?:not|n't|no\s+longer)\s+(?:allow|support|permit|accept|offer)s?\s+(?:\w+\s+){{0,3}}?(?:{_BACK}"
        rf"|roll-?back|{_OLDER})",
        rf"\b(?:prevents?|blocks?|disables?|prohibits?|forbids?|refuses|disallows?)\s+(?:\w+\s+){{0,3}}?"
        rf"(?:{_BACK}|roll-?back|{_OLDER})",
        r"\bone[\s-]way\s+(?:\w+\s+)?(?:update|upgrade|step|release|change)\b|\birreversible\b|\bnot\s+reversible\b",
    )
)
_OTHER = re.compile(r"\b(?:menu|screen|page|desktop|sleep|tab|dialogue?|drivers?|settings?|profile|clock)\b", re.IGNORECASE)
_UNDENIED = re.compile(
    r"\b(?:not|isn't|no\s+longer)\s+(?:an?\s+)?(?:one[\s-]way|irreversible)|\bno\s+longer\s+(?:prevents?"
    r"|blocks?|disables?|cannot)\b",
    re.I,
)
_IF = re.compile(
    r"\bif\b[^,]{0,60}$|\bwhen(?:ever)?\s+(?:the|a)\s+(?:battery|power|stick)\b|\bwhere\b|\bissue\b|\bproblem\b|\bbug\b", re.I
)


def one_way_words(notes: str) -> str:
    """The sentence that says so, or nothing."""
    for sentence in sentences(notes):
        for form in _FORMS:
            found = form.search(sentence)
            if found and _sound(sentence, found):
                return sentence
    return ""


def _sound(sentence: str, found: re.Match[str]) -> bool:
    before, after = sentence[: found.start()], sentence[found.end() :]
    if mends(before) or _UNDENIED.search(sentence) or _OTHER.search(found[0]) or _OTHER.search(after[:30]):
        return False
    return not _IF.search(before)
