"""How hard a text is to read: the grade of Flesch and Kincaid, with a syllable count of our own.

Grade = 0.39 words/sentences + 11.8 syllables/words - 15.59 (Kincaid, Fishburne, Rogers & Chissom 1975, "Derivation of new
readability formulas for Navy enlisted personnel", Research Branch Report 8-75). It is the school year of someone who follows.
"""

from __future__ import annotations

import re
from functools import cache

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


def grade(text: str) -> float:
    """The grade of a text; 0 when it has no words."""
    said = words(text)
    return flesch_kincaid(len(said), len(sentences(text)), sum(map(syllables, said))) if said else 0.0


def flesch_kincaid(count: int, stops: int, spoken: int) -> float:
    """The formula, from numbers of words, sentences and syllables."""
    return 0.39 * count / stops + 11.8 * spoken / count - 15.59
