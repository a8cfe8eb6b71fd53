"""Lines judged word by word: which are lists of codes, in which numbers, and whether the text is a console capture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from nopost.codes.timestamps import Line
from nopost.codes.words import Kind, Word, find_words

MAX_EVENTS = 100_000
SHORT = 12
"""A text of so few lines was typed by a person: its list lines count, whatever stands around them."""

_LISTED = frozenset((Kind.CODE, Kind.NUMBER, Kind.REPEAT, Kind.MORE, Kind.OPEN, Kind.CLOSE))


@dataclass(slots=True)
class Text:
    """The lines judged word by word."""

    lines: list[Line]
    words: list[list[Word]] = field(default_factory=list)
    listed: list[bool] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    console: bool = False
    decimal: bool = False
    odd: int = 0
    budget: int = MAX_EVENTS


def judge_lines(lines: list[Line]) -> Text:
    text = Text(lines)
    rows: dict[str, tuple[list[Word], bool]] = {}
    for line in lines:
        row = rows.get(line.rest)
        if row is None:
            words = find_words(line.rest)
            row = (words, _is_list(words))
            if len(rows) < 65_536:
                rows[line.rest] = row
        text.words.append(row[0])
        text.listed.append(row[1])
    _settle(text)
    return text


def _is_list(words: Sequence[Word]) -> bool:
    """Whether a line is nothing but codes, or so nearly that the rest are remarks between them."""
    if all(w.kind in _LISTED for w in words):
        return any(w.kind <= Kind.NUMBER for w in words)
    kinds = [w.kind for w in words]
    codes, others = kinds.count(Kind.CODE), kinds.count(Kind.WORD) + kinds.count(Kind.KEY)
    if codes < 2 or codes < 8 * kinds.count(Kind.NUMBER) or any(w.unit for w in words):
        return False
    fill = kinds.count(Kind.FILL)
    return codes > fill if not others else codes > 2 and codes >= 2 * (others + fill)


def remarked(words: Sequence[Word]) -> Sequence[Word]:
    """The codes of a line that is codes and one other word at its end or its start, such as "53 55 ok"; else none.

    One code alone wants a word that speaks of codes behind it ("4F stuck"). Letters alone may be words, so they do not count.
    """
    for rest, other in ((words[:-1], words[-1:]), (words[1:], words[:1])):
        if not rest or other[0].kind < Kind.KEY or other[0].unit or not all(w.kind is Kind.CODE and not w.alpha for w in rest):
            continue
        if len(rest) > 1 or (other[0].kind is Kind.KEY and other[0] is words[-1]):
            return rest
    return ()


def _settle(text: Text) -> None:
    """Console capture or list, decimal or hexadecimal, and which list lines are lists after all."""
    lists = [i for i, listed in enumerate(text.listed) if listed]
    text.console = len(text.lines) > SHORT and len(text.lines) > 2 * len(lists)
    _take_addresses(text, lists)
    values = [w for i in lists for w in text.words[i] if w.kind <= Kind.NUMBER]
    odd = any(w.kind is Kind.NUMBER and len(w.text) > 2 for w in values)
    text.decimal = odd and not text.console and all(not w.strong and w.text.isdecimal() for w in values)
    if text.decimal:
        text.notes.append("The numbers are read as decimal.")
        return
    plain = sum(w.alpha for w in values) * 2 > len(values)
    for i in lists:
        row = text.words[i]
        numbers = sum(w.kind is Kind.NUMBER for w in row)
        if numbers * 8 > len(row) or (plain and any(w.alpha and not w.text.isupper() for w in row)):
            text.listed[i] = False
        else:
            text.odd += numbers
    if text.odd:
        text.notes.append(f"Numbers that have not two, four or eight digits left out: {text.odd}.")


def _take_addresses(text: Text, lists: Sequence[int]) -> None:
    """Drop a first column of four to eight digits that rises by the number of bytes of each row."""
    rows = [(i, text.words[i]) for i in lists]
    if len(rows) < 2 or min(len(row) for _, row in rows[:-1]) < 5:
        return
    if not all(w.kind is Kind.CODE and len(w.code) == 2 for _, row in rows for w in row[1:]):
        return
    starts = [_address(row[0]) for _, row in rows]
    steps = [b - a for a, b in pairwise(starts)]
    if min(starts) >= 0 and all(step == len(row) - 1 for step, (_, row) in zip(steps, rows, strict=False)):
        for i, row in rows:
            text.words[i] = row[1:]
        text.notes.append("The first column counts bytes and was taken for addresses.")


def _address(word: Word) -> int:
    """The number of a first column; -1 when it is none, as a code with how often it came ("6B70x1") is."""
    plain = 4 <= len(word.text) <= 8 and word.kind <= Kind.NUMBER and not word.strong and not set("xX") & set(word.text)
    return int(word.text, 16) if plain else -1
