"""What a note says must be on the board before: this release before others, or others before this one.

The phrases are common practice in release notes, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from nopost.firmware.notes.sentences import denied, mends, sentences

SELF, LATER = "", "*"
"""Names of the release that the note belongs to, and of all after it."""


@dataclass(frozen=True, slots=True)
class Demand:
    """`need` has to be on the board before `target`; `at_least`: said as the lowest that is accepted."""

    need: str
    target: str
    at_least: bool
    words: str
    called: bool


_TOKEN = r"(?=[\w.\-]{0,39}\d)[A-Za-z0-9][\w.\-]{0,39}"
_NOUN = r"(?:firmware|bios|uefi|versions?|releases?|ver\.?|rev\.?|revision|build|image|update)"


def _ref(name: str) -> str:
    """A release: by name, "this", or "any later"."""
    named = (
        rf"(?:(?:the|an?|your|system)\s+){{0,2}}(?P<{name}_noun>(?:{_NOUN}\s+(?:version\s+)?(?:of\s+"
        rf"|to\s+)?){{0,3}})(?P<{name}>{_TOKEN})"
    )
    this = rf"(?P<{name}_this>(?:this|the present|the current|the following)(?:\s+(?:{_NOUN}|one|intermediate)){{0,3}}|\bit\b)"
    later = (
        rf"(?P<{name}_later>(?:(?:any|all|every|each)\s+)?(?:later|newer|future|subsequent|higher|further"
        rf"|following)(?:\s+(?:{_NOUN}|ones|updates|images)){{1,2}})"
    )
    return rf"(?:{later}|{this}|{named})"


_DO = (
    r"(?:updat(?:e|ed|ing)|upgrad(?:e|ed|ing)|flash(?:ed|ing)?|install(?:ed|ing|ation\s+of)?|writ(?:e|ing"
    r"|ten)|mov(?:e|ing)|going|go|apply(?:ing)?)"
    r"(?:\s+(?:first|directly))?(?:\s+(?:your|the)\s+(?:board|system|machine|firmware|bios))?(?:\s+(?:up)?(?:to|with|from))?"
)
_BEFORE = r"(?:before|prior\s+to|ahead\s+of)(?:\s+you)?(?:\s+can)?"
_TAIL = (
    r"(?:\s*\([^()]{0,30}\))?(?P<tail>,?\s*\(?(?:or|and)\s+(?:any\s+)?(?:later|newer|above|higher|greater|up|more\s+recent"
    r"|upwards?)\b\)?(?:\s+versions?)?|\s?\+(?!\w))?"
)
_MUST = r"(?:must|has\s+to|have\s+to|needs?\s+to|should|shall|is\s+to)\s+(?:first\s+|already\s+)?be\s+(?:already\s+)?"
_THERE = r"(?:installed|flashed|written|present|running|applied|used|updated|on\s+the\s+board|in\s+place)"
_N, _T = _ref("n"), _ref("t")

_PHRASES = tuple(
    (kind, re.compile(form, re.IGNORECASE))
    for kind, form in (
        # "cannot be installed unless 1.9 is on the board", "not before 1.9", "without 1.9"
        ("unless", rf"\b(?:unless|until|without)\s+(?:{_DO}\s+)?{_N}{_TAIL}"),
        # "before updating to this release, install 1.9"
        (
            "said",
            rf"\b{_BEFORE}\s+{_DO}\s+{_T}\s*,?\s*(?:please\s+|first\s+|you\s+(?:must|have\s+to|need\s+to"
            rf"|should)\s+|make\s+sure\s+to\s+){{0,2}}{_DO}\s+{_N}{_TAIL}",
        ),
        ("said", rf"\b{_BEFORE}\s+{_DO}\s+{_T}\s*,?\s*{_N}{_TAIL}\s+{_MUST}{_THERE}"),
        # "update to 1.9 before installing 1.12", "install 1.9 first", "first update to 1.9"
        ("said", rf"\b{_DO}\s+{_N}{_TAIL}(?:\s+(?:first|at\s+first))?\s*,?\s*{_BEFORE}(?:\s+{_DO})?\s+{_T}"),
        ("said", rf"\b{_DO}\s+{_N}{_TAIL}\s*,?\s*(?:first\b|beforehand\b|{_BEFORE})"),
        ("said", rf"\bfirst\s+{_DO}\s+{_N}{_TAIL}"),
        # "1.9 must be installed first", "this release must be installed before any later one"
        ("said", rf"{_N}{_TAIL}\s+{_MUST}{_THERE}(?:\s+on\s+the\s+board)?(?:\s+first)?\s*,?\s*{_BEFORE}(?:\s+{_DO})?\s+{_T}"),
        ("said", rf"{_N}{_TAIL}\s+{_MUST}{_THERE}(?:\s+on\s+the\s+board)?\s*,?\s*(?:first|beforehand|already|{_BEFORE})?"),
        ("self", rf"^\W{{0,9}}{_MUST}{_THERE}(?:\s+first)?\s*,?\s*{_BEFORE}(?:\s+{_DO})?\s+{_T}"),
        # "can only be installed from 1.9 or later", "accepted only from 1.9"
        (
            "least",
            rf"\bonly\s+(?:be\s+)?(?:updat\w+|upgrad\w+|install\w*|flash\w*|written|accept\w*|appli\w*|possible"
            rf"|works?|\s){{1,3}}\s*(?:from|over|on\s+top\s+of|on|with)\s+{_N}{_TAIL}",
        ),
        ("least", rf"\b(?:only\s+(?:from|over|on\s+top\s+of)|from)\s+{_N}{_TAIL}\s+(?:only|upwards?|onwards?)"),
        ("least", rf"\baccept\w*\s+only\s+(?:from|over|on)\s+{_N}{_TAIL}"),
        (
            "least",
            rf"\b(?:minimum|lowest|oldest)(?:\s+(?:required|needed|supported|accepted))?\s+{_NOUN}(?:\s+(?:version"
            rf"|required|needed|to\s+update(?:\s+from)?|for\s+(?:the|this)\s+update)){{0,2}}\s*(?:is|:"
            rf"|=)?\s*{_N}{_TAIL}",
        ),
        ("least", rf"\b(?:requires?|required|needs?)\s*:?\s+(?:at\s+least|a\s+minimum\s+of|minimum)\s+{_N}{_TAIL}"),
        # "every later release needs it", "1.12 requires 1.9", "requires 1.9"
        ("said", rf"{_T}\s+(?:requires?|needs?|depends?\s+on)\s+{_N}{_TAIL}"),
        ("said", rf"\b(?:requires?|prerequisites?|pre-requisites?|needs|depends\s+on)\s*(?::|is|are)?\s+(?:that\s+)?{_N}{_TAIL}"),
        (
            "said",
            rf"{_N}{_TAIL}\s+(?:is|are)\s+(?:required|needed|necessary|a\s+prerequisite|mandatory)(?:\s+(?:first"
            rf"|{_BEFORE}|for|to)(?:\s+{_DO})?(?:\s+{_T})?)?",
        ),
    )
)
_UNIT = re.compile(
    r"\s*(?:[kmgt]i?b\b|[mg]hz\b|w\b|v\b|%|minutes?|seconds?|modules?|pins?|slots?|drives?|sticks?|cores?|characters?)", re.I
)
_THING = re.compile(
    r"\b(?:tool|utility|driver|software|programme?|app|controller|engine|chipset|linux|kernel"
    r"|operating\s+system|os|runtime|package|card|adapter"
    r"|management|graphics|drive|microcode|shell|python|browser)s?\W{1,3}(?:(?:firmware|version|release|ver\.?|v)\s+){0,2}$",
    re.I,
)
_OF = re.compile(r"\s+of\s+(?:the|an?|your)\s+(?!board|firmware|bios|uefi)\w+", re.I)


def demands(notes: str) -> Iterator[Demand]:
    """What the notes say must be there before, each once."""
    seen: set[tuple[str, str]] = set()
    for sentence in sentences(notes):
        for kind, phrase in _PHRASES:
            found = next((m for m in phrase.finditer(sentence) if _sound(kind, sentence, m)), None)
            demand = _demand(kind, sentence, found) if found else None
            if demand and (demand.need, demand.target) not in seen:
                seen.add((demand.need, demand.target))
                yield demand
            if demand:
                break


def _sound(kind: str, sentence: str, found: re.Match[str]) -> bool:
    before = sentence[: found.start()]
    if kind != "unless" and (
        (denied(before[-60:]) and not re.search(r"\b(?:if|when)\b", before[-90:], re.I)) or _inner_not(found[0])
    ):
        return False
    if kind == "unless" and not denied(before):
        return False
    if mends(before) or mends(found[0].split(" ", 1)[0]):
        return False
    groups = found.groupdict()
    if not groups.get("n"):
        return True
    start, end = found.span("n")
    return not (_UNIT.match(sentence[end:]) or _OF.match(sentence[end:]) or _THING.search(sentence[:start][-60:]))


def _inner_not(words: str) -> bool:
    return (
        bool(re.search(r"\b(?:not|no\s+longer|needn't)\b(?!\s+(?:possible|be\s+possible))", words, re.I))
        and "only" not in words.lower()
    )


def _demand(kind: str, sentence: str, found: re.Match[str]) -> Demand | None:
    groups = found.groupdict()
    need = (
        SELF
        if kind == "self" or groups.get("n_this")
        else LATER
        if groups.get("n_later")
        else (groups.get("n") or "").rstrip(".-")
    )
    target = LATER if groups.get("t_later") else (groups.get("t") or "").rstrip(".-")
    if need == SELF and not target:
        if groups.get("t_this") or not re.search(_BEFORE, found[0], re.I):
            return None
        target = LATER
    if need in (LATER, target):
        return None
    at_least = kind == "least" or bool(groups.get("tail"))
    return Demand(need, target, at_least, sentence, bool((groups.get("n_noun") or "").strip()))
