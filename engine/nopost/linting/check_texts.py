"""Texts that people read at a dead machine: how hard they are, how long, where their facts are from, and titles that are alike.

How hard a text is to read is the grade of Flesch and Kincaid, with a syllable count of our own:
grade = 0.39 words/sentences + 11.8 syllables/words - 15.59 (Kincaid, Fishburne, Rogers & Chissom 1975, "Derivation of new
readability formulas for Navy enlisted personnel", Research Branch Report 8-75). It is the school year of someone who follows.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from nopost.knowledge import model as m
from nopost.knowledge.problem import Problem, ProblemCode, Severity
from nopost.knowledge.yaml_reader import KeyPath
from nopost.linting.lint_check import Check

TITLED_FOLDERS = ("causes", "findings", "actions", "rules", "hazards", "codes", "boards", "cpus")
_STOP_WORDS = """a an and are as at be been by does for from has have in is it its of on or so that the then this to was"""
STOP_WORDS = frozenset(_STOP_WORDS.split())
"""Words that set nothing apart; "not", "no" and "without" do."""
_TITLE_WORD = re.compile(r"\w+")


class TitleTwice(Check):
    """Within a kind no two items have the same title."""

    code = ProblemCode(
        "title-twice",
        "Two items of one kind with the same title",
        "A person sees titles only and cannot tell which is meant.",
        "Say in each title what sets it apart.",
    )

    def run(self) -> Iterator[Problem]:
        for folder, first, name, same in _similar_titles(self.knowledge):
            if same:
                message, hint = f"the same title as {first}", "say what sets them apart"
                yield self.problem(folder, name, ("title",), message, hint, (f"{folder}/{first}",))


class TitleNear(Check):
    """Within a kind no two titles are made of the same words, endings and little words aside."""

    code = ProblemCode(
        "title-near",
        "Two titles made of the same words",
        "They are taken for each other on a screen.",
        "Say in each title what sets it apart.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        for folder, first, name, same in _similar_titles(self.knowledge):
            if not same:
                message, hint = f"the same words as the title of {first}", "say what sets them apart"
                yield self.problem(folder, name, ("title",), message, hint, (f"{folder}/{first}",))


def _similar_titles(knowledge: m.Knowledge) -> Iterator[tuple[str, str, str, bool]]:
    """Folder, first item, a later one with a title of the same words, and whether the titles are the very same."""
    for folder in TITLED_FOLDERS:
        alike: defaultdict[frozenset[str], list[str]] = defaultdict(list)
        items = getattr(knowledge, folder)
        for name, item in items.items():
            alike[content_words(item.title)].append(name)
        for first, *others in alike.values():
            for name in others:
                yield folder, first, name, items[first].title.casefold() == items[name].title.casefold()


class VariantTwice(Check):
    """No two board records stand for one variant: images and releases are judged by it."""

    code = ProblemCode(
        "variant-twice",
        "Two board records for one variant",
        "Images and releases are judged by the variant. With two records of it, the wrong one may be taken.",
        "Write the variant as it is printed on this board, with every suffix; or delete one of the records.",
    )

    def run(self) -> Iterator[Problem]:
        known: dict[str, str] = {}
        for name, board in self.knowledge.boards.items():
            first = known.setdefault(" ".join(board.variant.casefold().split()), name)
            if first != name:
                message, hint = (
                    f"the same variant as {first}",
                    "write what is printed on this board, or delete one of the records",
                )
                yield self.problem("boards", name, ("variant",), message, hint, (f"boards/{first}",))


def content_words(title: str) -> frozenset[str]:
    """The words that matter, without the ending of a plural."""
    words = _TITLE_WORD.findall(title.casefold().replace("-", " "))
    return frozenset(word.removesuffix("s") for word in words if word not in STOP_WORDS) or frozenset(words)


_SENTENCE_END = re.compile(r"[.!?…]+[\"\u201d\u2019)\]]*(?:\s|$)|[;:](?:\s|$)")
_WORD = re.compile(r"[A-Za-z]+(?:['\u2019][A-Za-z]+)*")
_VOWELS = re.compile("[aeiouy]+")
_APART = re.compile(
    "(?<!q)u(?:a(?!r)|ou)|(?<![gcst])ia(?!n$)|(?<![cstgx])io(?!u)|(?<=[lr])ie(?=t|n)|(?<=qu)ie|(?<=[fl])ie(?=r)|eo(?!u|pl)"
    "|(?<=[eoy])ing|i[iu]|(?<=r)ea(?=ct)"
)
"""Vowels side by side that are spoken apart: situation, material, period, quiet, magnifier, video, being, medium, reaction."""
_SILENT = re.compile(
    "(?<=[^aeiouy])(?<![^aeiouyrlw]l)e$"  # one, take; not table
    "|(?<=[^aeiouysxzcgh])(?<![^aeiouyrlw]l)es$|(?<=[tp]h)es$"  # takes; not cases, boxes, watches
    "|(?<=[^aeiouytd])(?<![^aeiouyrlw]l)ed$"  # looked; not started, settled
    "|(?<=[aeiouy][^aeiouyl])e(?=(?:ly|less|ful|ments?|thing|where|one|times?|line|ways|ty|body|guards?)$)"  # something, safety
)
SPOKEN = frozenset({"CMOS", "POST", "RAM", "ROM", "LED", "ON", "OFF", "NOT", "FAT"})
"""Words in capitals that are spoken as words; others are spelled out."""


def sentences(text: str) -> list[str]:
    """The sentences; a colon or semicolon ends one too, since what follows reads as a new one."""
    return [part for part in (piece.strip() for piece in _SENTENCE_END.split(text)) if _WORD.search(part)]


def words(text: str) -> list[str]:
    """The words: letters and apostrophes. Numbers and codes are looked at, not read."""
    return _WORD.findall(text)


@cache
def syllables(word: str) -> int:
    """Syllables of an English word, by its spelling: groups of vowels, those spoken apart, less what is silent."""
    if 1 < len(word) <= 4 and word.isupper() and word not in SPOKEN:
        return len(word) + 2 * word.count("W")
    plain = re.sub(r"n['\u2019]t$", "net", word.lower()) if re.search(r"[sd]n['\u2019]t$", word.lower()) else word.lower()
    plain = re.sub("[^a-z]", "", plain)
    return max(1, len(_VOWELS.findall(plain)) + len(_APART.findall(plain)) - len(_SILENT.findall(plain)))


def reading_grade(text: str) -> float:
    """The grade of a text; 0 when it has no words."""
    said = words(text)
    return flesch_kincaid(len(said), len(sentences(text)), sum(map(syllables, said))) if said else 0.0


def flesch_kincaid(count: int, stops: int, spoken: int) -> float:
    """The formula, from numbers of words, sentences and syllables."""
    return 0.39 * count / stops + 11.8 * spoken / count - 15.59


HIGHEST_GRADE = 8.0
"""School year that a text may ask for: the eighth, as is advised for the public (common practice, no source)."""
FEWEST_WORDS = 30
"""The formula is made for passages; in fewer words a single long one sways it (judgement)."""
LONGEST_SENTENCE = 25
"""Words: the usual limit of plain-language guides (common practice, no source)."""
LONGEST_QUESTION = 20
"""Words: a question is read on a phone beside the machine, and must be kept in mind while looking (judgement)."""
_SAYS_WHERE = re.compile(r"judgement|common practice|invented|measured|record|definition|[0-9]", re.IGNORECASE)
_NEGATION = re.compile(r"\b(?:not|never|no|neither|nor|without)\b|n['\u2019]t\b", re.IGNORECASE)


class Passage(NamedTuple):
    """A passage, the places of its pieces, and the piece at each."""

    folder: str
    id: str
    pieces: tuple[tuple[KeyPath, str], ...]

    @property
    def whole(self) -> str:
        """All of it."""
        return " ".join(piece if piece.rstrip().endswith((".", "?", "!")) else f"{piece}." for _, piece in self.pieces)


class HardText(Check):
    """No passage asks for more schooling than most people have."""

    code = ProblemCode(
        "hard-text",
        "A text that is hard to read",
        "Flesch-Kincaid grade over 8 (Kincaid et al. 1975). People read it under stress, many in a foreign language.",
        "Shorter sentences, shorter words, one thought each.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        for text in _passages(self.knowledge):
            level = reading_grade(text.whole)
            if len(words(text.whole)) >= FEWEST_WORDS and level > HIGHEST_GRADE:
                message = f"reads like school year {level:.1f} (Flesch-Kincaid), more than {HIGHEST_GRADE:g}"
                where = text.pieces[0][0]
                yield self.problem(text.folder, text.id, where, message, "shorter sentences, shorter words")


class LongSentence(Check):
    """No sentence is so long that its beginning is forgotten at its end."""

    code = ProblemCode(
        "long-sentence",
        "A sentence of more than 25 words",
        "Its beginning is forgotten at its end.",
        "Make two sentences of it.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        for text in _passages(self.knowledge):
            for where, piece in text.pieces:
                for sentence in sentences(piece):
                    count = len(words(sentence))
                    if count > LONGEST_SENTENCE:
                        message = f"a sentence of {count} words, more than {LONGEST_SENTENCE}: “{_begin(sentence)} …”"
                        yield self.problem(text.folder, text.id, where, message, "make two of it")


class LongQuestion(Check):
    """A question is short."""

    code = ProblemCode(
        "long-question",
        "A question of more than 20 words",
        "It must be kept in mind while looking at the machine.",
        "Move what explains it to look:.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        for finding in self.knowledge.findings.values():
            count = len(words(finding.question))
            if count > LONGEST_QUESTION:
                message = f"a question of {count} words, more than {LONGEST_QUESTION}"
                yield self.problem("findings", finding.id, ("question",), message, "move what explains it to look:")


class DoubleQuestion(Check):
    """A question asks one thing."""

    code = ProblemCode(
        "double-question",
        "Two questions in one",
        "The answer to one of them is lost.",
        "Ask one thing; make another finding of the rest.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        for finding in self.knowledge.findings.values():
            if (count := finding.question.count("?")) > 1:
                message, hint = f"{count} questions in one", "ask one thing; make another finding of the rest"
                yield self.problem("findings", finding.id, ("question",), message, hint)


class DoubleNegative(Check):
    """A question does not turn round twice."""

    code = ProblemCode(
        "double-negative",
        "Two negations in one question",
        "People answer the opposite of what they mean.",
        "Ask it the other way round.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        for finding in self.knowledge.findings.values():
            if any(len(_NEGATION.findall(sentence)) > 1 for sentence in sentences(finding.question)):
                message, hint = "two negations in one question", "ask it the other way round"
                yield self.problem("findings", finding.id, ("question",), message, hint)


class VagueSource(Check):
    """A source says where the facts are from."""

    code = ProblemCode(
        "vague-source",
        "A source that says nothing",
        "A number is only worth what can be looked up behind it.",
        "Name a published source, or say: common practice, no source; or: judgement.",
        Severity.WARNING,
    )

    def run(self) -> Iterator[Problem]:
        for folder, name, where, source in _sources(self.knowledge):
            if not _SAYS_WHERE.search(source) and len(source.split()) < 4:
                message = f"the source {source!r} does not say where the facts are from"
                hint = "a published source, or: common practice, no source; or: judgement"
                yield self.problem(folder, name, where, message, hint)


CHECKS = (
    TitleTwice,
    TitleNear,
    VariantTwice,
    HardText,
    LongSentence,
    LongQuestion,
    DoubleQuestion,
    DoubleNegative,
    VagueSource,
)


def _sources(k: m.Knowledge) -> Iterator[tuple[str, str, KeyPath, str]]:
    """Folder, id, place and text of every source that is checked."""
    for folder, items in (("findings", k.findings), ("actions", k.actions), ("rules", k.rules), ("hazards", k.hazards)):
        for name, item in items.items():
            yield folder, name, ("source",), item.source
    for cause in k.causes.values():
        for key, source in cause.source.items():
            yield "causes", cause.id, ("source", key), source


def _passages(k: m.Knowledge) -> Iterator[Passage]:
    for finding in k.findings.values():
        pieces = (("question", finding.question), ("look", finding.look))
        yield Passage("findings", finding.id, tuple(((key,), piece) for key, piece in pieces if piece))
    for action in k.actions.values():
        yield Passage("actions", action.id, tuple((("steps", index), step) for index, step in enumerate(action.steps)))
    for cause in k.causes.values():
        yield Passage("causes", cause.id, ((("explanation",), cause.explanation), (("proof",), cause.proof)))
    for hazard in k.hazards.values():
        yield Passage("hazards", hazard.id, ((("caution",), hazard.caution),))
    for rule in k.rules.values():
        yield Passage("rules", rule.id, ((("because",), rule.because),))


def _begin(sentence: str) -> str:
    return " ".join(sentence.split()[:5])
