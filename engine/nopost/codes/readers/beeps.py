"""Beeps in words, groups or dots and dashes.

Written as the tables write them: a count "3", groups "1-3-1", lengths "long-short-short", and the words continuous,
two-tone, long-repeated and short-repeated. Two or more short ones alone are a count.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading, EventOrder
from nopost.codes.readers.source_text import LogLine
from nopost.codes.readers.timestamps import highest_clock, order_events
from nopost.codes.readers.tokens import FEW_LINES, word_set

LONGEST_LINE = 400
"""Characters of a line that a person types about beeps at most."""
MOST_BEEPS = 20
"""More beeps than that nobody counts."""

_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_NUMBERS = {w: n for n, w in enumerate(_DIGITS)}
_NUMBERS |= {"a": 1, "an": 1, "single": 1, "once": 1, "twice": 2, "double": 2, "triple": 3}
_BEEPS = word_set("beep beeps beeped beeping tone tones bleep bleeps buzz buzzes")
_LENGTHS = {"long": "long", "longs": "long", "short": "short", "shorts": "short"}
_AGAIN = word_set(
    "again repeat repeats repeated repeatedly repeating endless endlessly keeps nonstop "
    "forever over loop looping always constantly"
)
_WHOLE = word_set("continuous continuously constant unbroken")
_SIREN = word_set("siren sirens alternating warble warbling hilo")
_JOIN = word_set("then and followed by pause the with in row it code codes pattern is from speaker i hear heard of times time")
_WORD = re.compile(r"[a-z]{1,20}|\d{1,3}")
_GROUPS = re.compile(r"(?<![\w.-])[1-9](?:\s?[-\u2013]\s?[1-9]){1,7}(?![\w-]|\.\d)")
_SIGNS = re.compile(r"[-\u2013\u2014_.\u00b7\u2022*]{2,24}")
_SENTENCE = re.compile(r"[.;!?](?:\s|$)|\n")
SOUND_STEMS = ("beep", "bleep", "buzz", "tone", "siren", "warbl", "alternat")
"""One of these is in every word for a sound."""
_SOUND = re.compile("|".join(SOUND_STEMS), re.I)
_VOCABULARY = frozenset((*_NUMBERS, *_LENGTHS, *_AGAIN, *_WHOLE, *_SIREN, *_JOIN, *_BEEPS))


@dataclass(slots=True)
class _Heard:
    """What a sentence told so far."""

    lengths: list[str] = field(default_factory=list)
    count: int = 0
    number: int = 0
    words: int = 0
    told: bool = False
    again: bool = False
    whole: bool = False
    siren: bool = False
    plural: bool = False


def read_beeps(lines: Sequence[LogLine], asked: EventOrder | None = None) -> tuple[CodeReading | None, frozenset[int]]:
    """Beeps of a text, and the numbers of the lines that are about nothing else."""
    events: list[CodeEvent] = []
    whole: set[int] = set()
    clocks = set()
    vague = 0
    for line in lines:
        if len(line.rest) > LONGEST_LINE or not (len(lines) <= FEW_LINES or _SOUND.search(line.rest)):
            continue
        codes, only = _line(line.rest)
        vague += only and not codes
        events += [CodeEvent(code, line.at, line=line.number) for code in codes]
        if codes:
            clocks.add(line.clock)
        if codes and only:
            whole.add(line.number)
    if not events:
        return None, frozenset()
    done = order_events(events, asked=asked, clock=highest_clock(clocks))
    return CodeReading(CodeForm.BEEPS, "beeps", done.events, done.order, done.given, done.notes, vague), frozenset(whole)


def _line(text: str) -> tuple[list[str], bool]:
    """Codes of one line, and whether the line is about beeps only."""
    if (signs := _SIGNS.fullmatch(text.replace(" ", ""))) and _morse(signs[0]):
        return [_spell([_length(c) for c in signs[0]])], True
    low = text.lower()
    if _GROUPS.fullmatch(low.strip()):
        return [_grouped(low)], True
    words = _WORD.findall(low)
    about = any(w in _BEEPS or w in _SIREN for w in words)
    only = all(w in _VOCABULARY or w.isdigit() for w in words)
    if not about and not (only and any(w in _LENGTHS or w in _WHOLE for w in words)):
        return [], False
    if groups := _GROUPS.findall(low):
        return [_grouped(g) for g in groups], only
    return [code for part in _SENTENCE.split(low) if (code := _sentence(_WORD.findall(part)))], only


def _morse(signs: str) -> bool:
    return len({_length(c) for c in signs}) == 2 and len(signs) <= MOST_BEEPS


def _length(sign: str) -> str:
    return "short" if sign in ".\u00b7\u2022*" else "long"


def _grouped(text: str) -> str:
    return "-".join(c for c in text if c.isdigit())


def _spell(lengths: Sequence[str]) -> str:
    """Lengths as a code; two or more short ones alone are a count."""
    return str(len(lengths)) if len(lengths) > 1 and set(lengths) == {"short"} else "-".join(lengths)


def _sentence(words: Sequence[str]) -> str:
    """The code of one sentence, or nothing."""
    heard = _Heard()
    for i, word in enumerate(words):
        _hear(heard, word, words[i + 1] if i + 1 < len(words) else "")
    return _code(heard)


def _hear(heard: _Heard, word: str, after: str) -> None:
    if word.isdigit() or word in _NUMBERS:
        heard.number = int(word) if word.isdigit() else _NUMBERS[word]
        if word in ("once", "twice") or after in ("times", "time"):
            heard.count, heard.number, heard.told = heard.number, 0, True
    elif word in _LENGTHS:
        heard.lengths += [_LENGTHS[word]] * min(max(heard.number, 1), MOST_BEEPS + 1)
        heard.told, heard.number = heard.told or heard.number > 0, 0
    elif word in _BEEPS:
        heard.plural = heard.plural or word not in ("beep", "tone")
        heard.words += word == "beep"
        if heard.number and word.startswith("tone") and heard.number == 2:
            heard.siren = True
        heard.count += heard.number
        heard.told, heard.number = heard.told or heard.number > 0, 0
    else:
        heard.again = heard.again or word in _AGAIN
        heard.whole = heard.whole or word in _WHOLE
        heard.siren = heard.siren or word in _SIREN


def _code(heard: _Heard) -> str:
    if heard.siren:
        return "two-tone"
    if heard.whole and not heard.plural and (not heard.lengths or heard.told):
        return "continuous"
    kinds = set(heard.lengths)
    if len(kinds) == 1 and (heard.again or heard.whole or heard.plural) and not heard.told:
        return f"{kinds.pop()}-repeated"
    if heard.lengths:
        return _spell(heard.lengths) if len(heard.lengths) <= MOST_BEEPS else ""
    if heard.whole or (heard.again and not heard.count):
        return "short-repeated" if heard.plural else ""
    count = heard.count or (heard.words if heard.words > 1 else 0)
    return str(count) if 0 < count <= MOST_BEEPS else ""
