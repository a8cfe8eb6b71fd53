"""Tokens of a line: which words are hexadecimal codes, numbers, repeats or plain words; which lines are lists of codes.

A code is two, four or eight hexadecimal digits, with or without 0x or h, that are no English word. A text is a console
capture when most of its lines are no lists; its numbers are decimal when they cannot be codes otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from nopost.codes.readers.source_text import LogLine

MAX_REPEATS = 1_000_000
"""Times that a code is taken to have come in a row at most, whatever the text says."""

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
_KEYWORDS = word_set(
    "post postcode postcodes code codes checkpoint checkpoints cp display displays displayed show shows showed shown showing "
    "port port80 port80h stuck stop stops stopped hang hangs hung halt halts halted freezes frozen ends ended last reads"
)
_STOP_WORDS = word_set(
    "a an and at be by hex hexadecimal in is it its me now of on only or still the then there to value was with"
)
_UNITS = word_set(
    "s sec secs second seconds min mins minute minutes ms hour hours day days week weeks time v volt volts a w watt watts mm cm "
    "mhz ghz gb mb kb gib mib c f percent beep beeps code codes digit digits pin pins slot slots lamp lamps boots years"
)


class TokenKind(IntEnum):
    """What a word of a line can be; the kinds up to CLOSE occur in lists of codes."""

    CODE = 0
    NUMBER = 1
    REPEAT = 2
    ELLIPSIS = 3
    OPEN = 4
    CLOSE = 5
    KEYWORD = 6
    STOP_WORD = 7
    WORD = 8


class Token(NamedTuple):
    """A word of a line and what it can be.

    `text`: as written, small letters for words. `code`: the code, in the capitals of a code table. `times`: how often, of a
    repeat or a code with one. `strong`: marked as hexadecimal. `alpha`: digits A to F only, so perhaps a word of prose.
    `unit`: a unit of something, so that a number before it is no code.
    """

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
    """The token of one word as `TOKEN_PATTERN` finds it."""
    if text in "()":
        return Token(TokenKind.OPEN if text == "(" else TokenKind.CLOSE, text)
    if text[0] in ".…":
        return Token(TokenKind.ELLIPSIS, text)
    low = text.lower()
    if found := _HEX.fullmatch(text):
        token = _code(text, found)
        if token:
            return token
    if (found := _REPEAT.fullmatch(text)) and not text.isdigit():
        return Token(TokenKind.REPEAT, text, times=min(int(found[1]), MAX_REPEATS))
    if text.isascii() and text.isdigit() and len(text) <= 10 and int(text) <= 0xFFFFFFFF:
        return Token(TokenKind.NUMBER, text)
    if low in _KEYWORDS:
        return Token(TokenKind.KEYWORD, low, unit=low in _UNITS)
    return Token(TokenKind.STOP_WORD if low in _STOP_WORDS else TokenKind.WORD, low, unit=low in _UNITS)


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
    """The tokens of a text, in order."""
    return [classify_token(token) for token in TOKEN_PATTERN.findall(text)]


MAX_EVENTS = 100_000
"""Codes kept of one text at most."""
MOST_KNOWN_LINES = 65_536
"""Different lines whose tokens are remembered while a text is read."""
FEW_LINES = 12
"""A text of so few lines was typed by a person: list lines, groups of beeps and names of lamps count, whatever stands around
them."""

_LISTED = frozenset((TokenKind.CODE, TokenKind.NUMBER, TokenKind.REPEAT, TokenKind.ELLIPSIS, TokenKind.OPEN, TokenKind.CLOSE))


@dataclass(slots=True)
class TokenizedText:
    """The lines of a text as tokens, and what kind of text they make.

    `tokens`: of each line. `listed`: whether a line is nothing but codes. `console`: the text is a console capture, in which
    codes are few. `decimal`: its codes are decimal numbers. `notes`: what was guessed, as sentences; readers add to them.
    """

    lines: list[LogLine]
    tokens: list[list[Token]]
    listed: list[bool]
    console: bool
    decimal: bool
    notes: list[str]


def tokenize_lines(lines: list[LogLine]) -> TokenizedText:
    """Tokenize the lines and tell lists of codes from prose, a console capture from a list, decimal from hexadecimal."""
    tokens, listed = _rows(lines)
    lists = [i for i, is_list in enumerate(listed) if is_list]
    console = len(lines) > FEW_LINES and len(lines) > 2 * len(lists)
    notes = []
    if _counts_bytes([tokens[i] for i in lists]):
        for i in lists:
            tokens[i] = tokens[i][1:]
        notes.append("The first column counts bytes and was taken for addresses.")
    values = [token for i in lists for token in tokens[i] if token.kind <= TokenKind.NUMBER]
    if not console and _is_decimal(values):
        notes.append("The numbers are read as decimal.")
        return TokenizedText(lines, tokens, listed, console, True, notes)
    prose = _lists_that_are_prose(tokens, lists, values)
    odd = sum(token.kind is TokenKind.NUMBER for i in lists if i not in prose for token in tokens[i])
    if odd:
        notes.append(f"Numbers that have not two, four or eight digits left out: {odd}.")
    return TokenizedText(lines, tokens, [is_list and i not in prose for i, is_list in enumerate(listed)], console, False, notes)


def _rows(lines: Sequence[LogLine]) -> tuple[list[list[Token]], list[bool]]:
    """The tokens of each line, and whether it looks like a list; lines that are alike are tokenized once."""
    known: dict[str, tuple[list[Token], bool]] = {}
    tokens, listed = [], []
    for line in lines:
        row = known.get(line.rest)
        if row is None:
            found = tokenize(line.rest)
            row = (found, _is_list(found))
            if len(known) < MOST_KNOWN_LINES:
                known[line.rest] = row
        tokens.append(row[0])
        listed.append(row[1])
    return tokens, listed


def _is_list(tokens: Sequence[Token]) -> bool:
    """Whether a line is nothing but codes, or so nearly that the rest are remarks between them."""
    if all(token.kind in _LISTED for token in tokens):
        return any(token.kind <= TokenKind.NUMBER for token in tokens)
    kinds = [token.kind for token in tokens]
    codes, others = kinds.count(TokenKind.CODE), kinds.count(TokenKind.WORD) + kinds.count(TokenKind.KEYWORD)
    if codes < 2 or codes < 8 * kinds.count(TokenKind.NUMBER) or any(token.unit for token in tokens):
        return False
    stop_words = kinds.count(TokenKind.STOP_WORD)
    return codes > stop_words if not others else codes > 2 and codes >= 2 * (others + stop_words)


def codes_with_remark(tokens: Sequence[Token]) -> Sequence[Token]:
    """The codes of a line that is codes and one other word at its end or its start, such as "53 55 ok"; else none.

    One code alone wants a word that speaks of codes behind it ("4F stuck"). Letters alone may be words, so they do not count.
    """
    for rest, other in ((tokens[:-1], tokens[-1:]), (tokens[1:], tokens[:1])):
        if (
            not rest
            or other[0].kind < TokenKind.KEYWORD
            or other[0].unit
            or not all(token.kind is TokenKind.CODE and not token.alpha for token in rest)
        ):
            continue
        if len(rest) > 1 or (other[0].kind is TokenKind.KEYWORD and other[0] is tokens[-1]):
            return rest
    return ()


def _is_decimal(values: Sequence[Token]) -> bool:
    """Whether numbers of lists must be decimal: some have not the digits of a code, and none is marked as hexadecimal."""
    odd = any(token.kind is TokenKind.NUMBER and len(token.text) > 2 for token in values)
    return odd and all(not token.strong and token.text.isdecimal() for token in values)


def _lists_that_are_prose(tokens: Sequence[Sequence[Token]], lists: Sequence[int], values: Sequence[Token]) -> set[int]:
    """Lines that looked like lists but have many numbers that are no codes, or, in a text of words, small letters alone."""
    wordy = sum(token.alpha for token in values) * 2 > len(values)
    found = set()
    for i in lists:
        numbers = sum(token.kind is TokenKind.NUMBER for token in tokens[i])
        if numbers * 8 > len(tokens[i]) or (wordy and any(token.alpha and not token.text.isupper() for token in tokens[i])):
            found.add(i)
    return found


def _counts_bytes(rows: Sequence[Sequence[Token]]) -> bool:
    """Whether the first column has four to eight digits and rises by the number of bytes in each row."""
    if len(rows) < 2 or min(len(row) for row in rows[:-1]) < 5:
        return False
    if not all(token.kind is TokenKind.CODE and len(token.code) == 2 for row in rows for token in row[1:]):
        return False
    starts = [_address(row[0]) for row in rows]
    steps = [b - a for a, b in pairwise(starts)]
    return min(starts) >= 0 and all(step == len(row) - 1 for step, row in zip(steps, rows, strict=False))


def _address(token: Token) -> int:
    """The number of a first column; -1 when it is none, as a code with how often it came ("6B70x1") is."""
    plain = 4 <= len(token.text) <= 8 and token.kind <= TokenKind.NUMBER and not token.strong and not set("xX") & set(token.text)
    return int(token.text, 16) if plain else -1
