"""One word of a text as a code: hexadecimal digits with or without 0x or h, and what a person's word is not."""

from __future__ import annotations

import re
from enum import IntEnum
from functools import lru_cache
from typing import NamedTuple

MAX_REPEATS = 1_000_000

TOKEN = re.compile(
    r"0[xX][0-9A-Fa-f]{1,16}(?![0-9A-Za-z])|[xX\u00d7*] ?\d{1,7}(?!\w)|\d{1,7}(?:[x\u00d7](?![\w ])| ?times\b)"
    r"|\.{3,}|…|[()]|[^\W_]+"
)
"""Finds the words of a line; all other characters only part them."""

_HEX = re.compile(r"(0[xX])?([0-9A-Fa-f]{1,16})([hH]?)(?:[xX](\d{1,7}))?")
_REPEAT = re.compile(r"[xX\u00d7*]? ?(\d{1,7})(?:[x\u00d7]| ?times)?")


def word_set(text: str) -> frozenset[str]:
    """The words of a text as a set."""
    return frozenset(text.split())


_WIDTHS = (2, 4, 8)
_ENGLISH = frozenset(("AB", "AC", "AD", "BA", "BE", "CA", "CD", "DA", "DC", "DE", "EA", "ED", "FA"))
_KEYS = word_set(
    "post postcode postcodes code codes checkpoint checkpoints cp display displays displayed show shows showed shown showing "
    "port port80 port80h stuck stop stops stopped hang hangs hung halt halts halted freezes frozen ends ended last reads"
)
_FILL = word_set("a an and at be by hex hexadecimal in is it its me now of on only or still the then there to value was with")
_UNITS = word_set(
    "s sec secs second seconds min mins minute minutes ms hour hours day days week weeks time v volt volts a w watt watts mm cm "
    "mhz ghz gb mb kb gib mib c f percent beep beeps code codes digit digits pin pins slot slots lamp lamps boots years"
)


class Kind(IntEnum):
    """What a word can be."""

    CODE = 0
    NUMBER = 1
    REPEAT = 2
    MORE = 3
    OPEN = 4
    CLOSE = 5
    KEY = 6
    FILL = 7
    WORD = 8


class Word(NamedTuple):
    """A word judged. `strong`: marked as hex. `alpha`: digits A to F only, so perhaps a word of prose; `times`: of a repeat."""

    kind: Kind
    text: str
    code: str = ""
    times: int = 1
    strong: bool = False
    alpha: bool = False
    unit: bool = False


def narrow(value: int, digits: int) -> str:
    """A value as two, four or eight capital digits, at least `digits` wide; eight when it needs more (its low 32 bits)."""
    value &= 0xFFFFFFFF
    needed = len(f"{value:X}")
    return f"{value:0{next(w for w in _WIDTHS if w >= max(needed, min(digits, 8)))}X}"


@lru_cache(maxsize=16_384)
def judge(text: str) -> Word:
    """What one found word is."""
    if text in "()":
        return Word(Kind.OPEN if text == "(" else Kind.CLOSE, text)
    if text[0] in ".…":
        return Word(Kind.MORE, text)
    low = text.lower()
    if found := _HEX.fullmatch(text):
        word = _code(text, found)
        if word:
            return word
    if (found := _REPEAT.fullmatch(text)) and not text.isdigit():
        return Word(Kind.REPEAT, text, times=min(int(found[1]), MAX_REPEATS))
    if text.isascii() and text.isdigit() and len(text) <= 10 and int(text) <= 0xFFFFFFFF:
        return Word(Kind.NUMBER, text)
    if low in _KEYS:
        return Word(Kind.KEY, low, unit=low in _UNITS)
    return Word(Kind.FILL if low in _FILL else Kind.WORD, low, unit=low in _UNITS)


def _code(text: str, found: re.Match[str]) -> Word | None:
    prefix, digits, suffix, times = found.groups()
    if not prefix and not suffix and len(digits) == 3 and digits[-1] in "hH":
        return None
    alpha = digits.isalpha()
    if suffix and alpha and not (digits.isupper() and len(digits) == 2) and digits.lower() != "ff":
        return None  # beach, teach
    width = len(digits) + (len(digits) == 1 and bool(prefix or suffix))
    if width not in _WIDTHS:
        return None
    strong = bool(prefix or suffix)
    word = alpha and not strong and not _surely(digits)
    count = min(int(times), MAX_REPEATS) if times else 1
    code = digits.upper() if digits[0] != "0" and len(digits) == width else narrow(int(digits, 16), 2)
    return Word(Kind.CODE, text, code, max(count, 1), strong, word)


def _surely(digits: str) -> bool:
    """Whether letters alone read as a code all the same: AA, ff, fb, or capitals that are no English word."""
    return len(digits) == 2 and (digits.upper() not in _ENGLISH)


def find_words(text: str) -> list[Word]:
    """The words of a text, judged."""
    return [judge(token) for token in TOKEN.findall(text)]
