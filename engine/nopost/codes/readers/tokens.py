"""Tokens of a line: which words are hexadecimal codes, numbers, repeats or plain words; which lines are lists of codes.

A code is two, four or eight hexadecimal digits, with or without 0x or h, that are no English word. A text is a console
capture when most of its lines are no lists; its numbers are decimal when they cannot be codes otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from nopost.codes.readers.source_text import LogLine

MAX_REPEATS = 1_000_000

TOKEN_PATTERN = re.compile(
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


class TokenKind(IntEnum):
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


class Token(NamedTuple):
    """A word judged. `strong`: marked as hex. `alpha`: digits A to F only, so perhaps a word of prose; `times`: of a repeat."""

    kind: TokenKind
    text: str
    code: str = ""
    times: int = 1
    strong: bool = False
    alpha: bool = False
    unit: bool = False


def padded_hex(value: int, digits: int) -> str:
    """A value as two, four or eight capital digits, at least `digits` wide; eight when it needs more (its low 32 bits)."""
    value &= 0xFFFFFFFF
    needed = len(f"{value:X}")
    return f"{value:0{next(w for w in _WIDTHS if w >= max(needed, min(digits, 8)))}X}"


@lru_cache(maxsize=16_384)
def classify_token(text: str) -> Token:
    """What one found word is."""
    if text in "()":
        return Token(TokenKind.OPEN if text == "(" else TokenKind.CLOSE, text)
    if text[0] in ".…":
        return Token(TokenKind.MORE, text)
    low = text.lower()
    if found := _HEX.fullmatch(text):
        word = _code(text, found)
        if word:
            return word
    if (found := _REPEAT.fullmatch(text)) and not text.isdigit():
        return Token(TokenKind.REPEAT, text, times=min(int(found[1]), MAX_REPEATS))
    if text.isascii() and text.isdigit() and len(text) <= 10 and int(text) <= 0xFFFFFFFF:
        return Token(TokenKind.NUMBER, text)
    if low in _KEYS:
        return Token(TokenKind.KEY, low, unit=low in _UNITS)
    return Token(TokenKind.FILL if low in _FILL else TokenKind.WORD, low, unit=low in _UNITS)


def _code(text: str, found: re.Match[str]) -> Token | None:
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
    code = digits.upper() if digits[0] != "0" and len(digits) == width else padded_hex(int(digits, 16), 2)
    return Token(TokenKind.CODE, text, code, max(count, 1), strong, word)


def _surely(digits: str) -> bool:
    """Whether letters alone read as a code all the same: AA, ff, fb, or capitals that are no English word."""
    return len(digits) == 2 and (digits.upper() not in _ENGLISH)


def tokenize(text: str) -> list[Token]:
    """The words of a text, judged."""
    return [classify_token(token) for token in TOKEN_PATTERN.findall(text)]


MAX_EVENTS = 100_000
FEW_LINES = 12
"""A text of so few lines was typed by a person: list lines, groups of beeps and names of lamps count, whatever stands around
them."""

_LISTED = frozenset((TokenKind.CODE, TokenKind.NUMBER, TokenKind.REPEAT, TokenKind.MORE, TokenKind.OPEN, TokenKind.CLOSE))


@dataclass(slots=True)
class TokenizedText:
    """The lines judged word by word."""

    lines: list[LogLine]
    words: list[list[Token]] = field(default_factory=list)
    listed: list[bool] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    console: bool = False
    decimal: bool = False
    odd: int = 0
    budget: int = MAX_EVENTS


def tokenize_lines(lines: list[LogLine]) -> TokenizedText:
    text = TokenizedText(lines)
    rows: dict[str, tuple[list[Token], bool]] = {}
    for line in lines:
        row = rows.get(line.rest)
        if row is None:
            words = tokenize(line.rest)
            row = (words, _is_list(words))
            if len(rows) < 65_536:
                rows[line.rest] = row
        text.words.append(row[0])
        text.listed.append(row[1])
    _settle(text)
    return text


def _is_list(words: Sequence[Token]) -> bool:
    """Whether a line is nothing but codes, or so nearly that the rest are remarks between them."""
    if all(w.kind in _LISTED for w in words):
        return any(w.kind <= TokenKind.NUMBER for w in words)
    kinds = [w.kind for w in words]
    codes, others = kinds.count(TokenKind.CODE), kinds.count(TokenKind.WORD) + kinds.count(TokenKind.KEY)
    if codes < 2 or codes < 8 * kinds.count(TokenKind.NUMBER) or any(w.unit for w in words):
        return False
    fill = kinds.count(TokenKind.FILL)
    return codes > fill if not others else codes > 2 and codes >= 2 * (others + fill)


def codes_with_remark(words: Sequence[Token]) -> Sequence[Token]:
    """The codes of a line that is codes and one other word at its end or its start, such as "53 55 ok"; else none.

    One code alone wants a word that speaks of codes behind it ("4F stuck"). Letters alone may be words, so they do not count.
    """
    for rest, other in ((words[:-1], words[-1:]), (words[1:], words[:1])):
        if (
            not rest
            or other[0].kind < TokenKind.KEY
            or other[0].unit
            or not all(w.kind is TokenKind.CODE and not w.alpha for w in rest)
        ):
            continue
        if len(rest) > 1 or (other[0].kind is TokenKind.KEY and other[0] is words[-1]):
            return rest
    return ()


def _settle(text: TokenizedText) -> None:
    """Console capture or list, decimal or hexadecimal, and which list lines are lists after all."""
    lists = [i for i, listed in enumerate(text.listed) if listed]
    text.console = len(text.lines) > FEW_LINES and len(text.lines) > 2 * len(lists)
    _take_addresses(text, lists)
    values = [w for i in lists for w in text.words[i] if w.kind <= TokenKind.NUMBER]
    odd = any(w.kind is TokenKind.NUMBER and len(w.text) > 2 for w in values)
    text.decimal = odd and not text.console and all(not w.strong and w.text.isdecimal() for w in values)
    if text.decimal:
        text.notes.append("The numbers are read as decimal.")
        return
    plain = sum(w.alpha for w in values) * 2 > len(values)
    for i in lists:
        row = text.words[i]
        numbers = sum(w.kind is TokenKind.NUMBER for w in row)
        if numbers * 8 > len(row) or (plain and any(w.alpha and not w.text.isupper() for w in row)):
            text.listed[i] = False
        else:
            text.odd += numbers
    if text.odd:
        text.notes.append(f"Numbers that have not two, four or eight digits left out: {text.odd}.")


def _take_addresses(text: TokenizedText, lists: Sequence[int]) -> None:
    """Drop a first column of four to eight digits that rises by the number of bytes of each row."""
    rows = [(i, text.words[i]) for i in lists]
    if len(rows) < 2 or min(len(row) for _, row in rows[:-1]) < 5:
        return
    if not all(w.kind is TokenKind.CODE and len(w.code) == 2 for _, row in rows for w in row[1:]):
        return
    starts = [_address(row[0]) for _, row in rows]
    steps = [b - a for a, b in pairwise(starts)]
    if min(starts) >= 0 and all(step == len(row) - 1 for step, (_, row) in zip(steps, rows, strict=False)):
        for i, row in rows:
            text.words[i] = row[1:]
        text.notes.append("The first column counts bytes and was taken for addresses.")


def _address(word: Token) -> int:
    """The number of a first column; -1 when it is none, as a code with how often it came ("6B70x1") is."""
    plain = 4 <= len(word.text) <= 8 and word.kind <= TokenKind.NUMBER and not word.strong and not set("xX") & set(word.text)
    return int(word.text, 16) if plain else -1
