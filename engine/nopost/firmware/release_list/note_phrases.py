"""The phrases of release notes: CPU families gained or lost, what must be on the board before (this release before
others, or others before this one), and that nothing older can be written afterwards.

The phrases are common practice in release notes, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from nopost.firmware.release_list.prose import Families, clauses, denied, family_words, mends, sentences

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
    """The sentence that says that nothing older can be written afterwards, or ""."""
    for sentence in sentences(notes):
        for form in _FORMS:
            found = form.search(sentence)
            if found and _tells_one_way(sentence, found):
                return sentence
    return ""


def _tells_one_way(sentence: str, found: re.Match[str]) -> bool:
    before, after = sentence[: found.start()], sentence[found.end() :]
    if mends(before) or _UNDENIED.search(sentence) or _OTHER.search(found[0]) or _OTHER.search(after[:30]):
        return False
    return not _IF.search(before)


SELF, LATER = "", "*"
"""Names of the release that the note belongs to, and of all after it."""


@dataclass(frozen=True, slots=True)
class Prerequisite:
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


def prerequisites(notes: str) -> Iterator[Prerequisite]:
    """What the notes say must be there before, each once."""
    seen: set[tuple[str, str]] = set()
    for sentence in sentences(notes):
        for kind, phrase in _PHRASES:
            found = next((m for m in phrase.finditer(sentence) if _tells_prerequisite(kind, sentence, m)), None)
            demand = _prerequisite(kind, sentence, found) if found else None
            if demand and (demand.need, demand.target) not in seen:
                seen.add((demand.need, demand.target))
                yield demand
            if demand:
                break


def _tells_prerequisite(kind: str, sentence: str, found: re.Match[str]) -> bool:
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


def _prerequisite(kind: str, sentence: str, found: re.Match[str]) -> Prerequisite | None:
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
    return Prerequisite(need, target, at_least, sentence, bool((groups.get("n_noun") or "").strip()))


@dataclass(frozen=True, slots=True)
class SupportChange:
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


def support_changes(notes: str, families: Families) -> Iterator[SupportChange]:
    """The CPU families that the notes say are gained or lost, each once."""
    seen: set[tuple[bool, str]] = set()
    for sentence in sentences(notes):
        for clause in clauses(sentence):
            for change in _of_clause(clause, sentence, families):
                if (change.lost, change.family) not in seen:
                    seen.add((change.lost, change.family))
                    yield change


def _of_clause(clause: str, sentence: str, families: Families) -> Iterator[SupportChange]:
    for lost, forms in ((True, _LOST), (False, _GAINED)):
        for form in forms:
            found = form.search(clause)
            if not found or not _tells_support(lost, clause, found):
                continue
            names = list(_families_told(found, clause, families))
            yield from (SupportChange(lost, name, sentence, known) for name, known in names)
            if names:
                return
        if lost and any(form.search(clause) for form in _LOST[:4]):
            return


def _tells_support(lost: bool, clause: str, found: re.Match[str]) -> bool:
    before = clause[: found.start()]
    if mends(before) or mends(found[0][:12]):
        return False
    if lost:
        return not denied(before)
    return not denied(before[-40:]) and not re.search(r"\b(?:no\s+longer|not|yet|more\s+than|no)\b", found[0], re.I)


def _families_told(found: re.Match[str], clause: str, families: Families) -> Iterator[tuple[str, bool]]:
    """Ids of the object, when the clause speaks of CPUs or the name is a known one."""
    items = list(family_words(found["obj"], families))
    speaks = bool(_CPU.search(clause)) or bool(_GROUP.search(found["obj"]) and not _NO_CPU.search(clause))
    for name, known in items:
        if known or (speaks and not ("near" in found.groupdict() and not _CPU.search(clause))):
            yield name, known
