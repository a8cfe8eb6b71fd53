"""Codes in free text: lists in hexadecimal or decimal, with repeats, and codes among other text.

A line made of codes only is a *list line*. In a text that is mostly something else (a console capture, a long story) codes count
only where they are marked (0x55, 55h) or stand next to a word such as code, post, display, stuck.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from nopost.codes.code_lines import MAX_EVENTS, SHORT, Text, judge_lines, remarked
from nopost.codes.event import Event, Form, Order, Reading
from nopost.codes.ordering import arrange
from nopost.codes.prose import Sign, prose_line
from nopost.codes.timestamps import Line
from nopost.codes.words import Kind, Word, narrow

_NEWEST, _OLDEST = re.compile(r"\b(?:newest|latest|last) first\b", re.I), re.compile(r"\b(?:oldest|earliest) first\b", re.I)


def read_codes(lines: Sequence[Line], notes: Sequence[str] = (), asked: Order | None = None) -> Reading | None:
    """Codes of a text, or None when it has none. `notes`: what was guessed about its lines."""
    text = judge_lines(list(lines))
    text.notes.extend(notes)
    signs, unread = _signs(text)
    if not signs:
        signs, unread = _remarked(text)
    if not signs:
        return None
    if len(signs) > MAX_EVENTS:
        text.notes.append(f"Only the last {MAX_EVENTS} of {len(signs)} codes were kept.")
        signs = signs[-MAX_EVENTS:]
    return _reading(text, signs, unread, asked)


def _remarked(text: Text) -> tuple[list[Sign], int]:
    """Codes with a remark of one word before or behind them, in a few lines that say nothing else; all words are then a guess."""
    found = [remarked(words) for words in text.words]
    signs = [Sign(w.code, w.times, line) for line, row in zip(text.lines, found, strict=True) for w in row]
    if len(text.lines) > SHORT or not signs:
        return [], 0
    text.notes.append("A word beside the codes was passed over.")
    return signs, sum(not row for row in found)


def _reading(text: Text, signs: list[Sign], unread: int, asked: Order | None) -> Reading:
    clocks = {sign.line.clock for sign in signs if sign.line.clock}
    one = clocks.pop() if len(clocks) == 1 else ""
    said = _said_order(text)
    if clocks:
        text.notes.append("The time stamps are of several kinds and were left out.")
    events = [Event(s.code, s.line.at if one else None, None, s.kind, s.status, s.times, s.line.number) for s in signs]
    done = arrange(events, asked=asked or said, clock=one, indexes=[s.line.running for s in signs])
    if said and not asked:
        text.notes.append(f"The text says that it is ordered {said.value.replace('-', ' ')}.")
    return Reading(
        Form.HEX, _source(text, signs), _merged(done.events), done.order, done.given, (*text.notes, *done.notes), unread
    )


def _source(text: Text, signs: Sequence[Sign]) -> str:
    if text.console:
        return "codes among other text"
    if text.decimal:
        return "list of decimal codes"
    wide = {len(sign.code) for sign in signs}
    return "list of 32-bit words" if wide == {8} else "list of hexadecimal codes"


def _said_order(text: Text) -> Order | None:
    for line, listed in zip(text.lines, text.listed, strict=True):
        if not listed and " first" in line.rest.lower():
            if _NEWEST.search(line.rest):
                return Order.NEWEST_FIRST
            if _OLDEST.search(line.rest):
                return Order.OLDEST_FIRST
    return None


def _merged(events: Sequence[Event]) -> tuple[Event, ...]:
    """Equal codes in a row without times become one with a count."""
    result: list[Event] = []
    counts: list[int] = []
    for event in events:
        last = result[-1] if result else None
        if (
            last
            and event.at is None
            and last.at is None
            and (last.code, last.kind, last.status) == (event.code, event.kind, event.status)
        ):
            counts[-1] += event.count
        else:
            result.append(event)
            counts.append(event.count)
    return tuple(
        e if n == e.count else Event(e.code, e.at, e.boot, e.kind, e.status, n, e.line)
        for e, n in zip(result, counts, strict=True)
    )


def _signs(text: Text) -> tuple[list[Sign], int]:
    """All signs in the text's order, and the number of lines with none."""
    if quads := _little_endian(text):
        text.notes.append("The rows of four bytes were taken for 32-bit words, low byte first: a guess.")
        return quads, len(text.lines) - len({sign.line.number for sign in quads})
    found: list[tuple[int, list[Sign], bool]] = []
    opened = False
    more = 0
    for i, (line, words) in enumerate(zip(text.lines, text.words, strict=True)):
        listed = text.listed[i] and (not text.console or opened or any(w.strong for w in words))
        if listed:
            signs = _list_line(text, line, words)
            more += words[-1].kind is Kind.MORE
            found.append((i, signs, True))
            continue
        signs, keyed = prose_line(line, words)
        opened = line.rest.endswith(":") and any(w.kind is Kind.KEY for w in words)
        found.append((i, signs, keyed))
    if more:
        text.notes.append("Dots say that codes were left out or that the last one goes on.")
    return _chosen(text, found)


def _chosen(text: Text, found: Sequence[tuple[int, list[Sign], bool]]) -> tuple[list[Sign], int]:
    """Marked words of prose lines count only when no line has codes next to a word such as post or code."""
    if any(signs and keyed for _, signs, keyed in found):
        left = sum(len(signs) for _, signs, keyed in found if not keyed)
        if left:
            text.notes.append(f"Hexadecimal numbers in lines that do not speak of codes left out: {left}.")
        found = [(i, signs if keyed else [], keyed) for i, signs, keyed in found]
    return [sign for _, signs, _ in found for sign in signs], sum(not signs for _, signs, _ in found)


def _list_line(text: Text, line: Line, words: Sequence[Word]) -> list[Sign]:
    """The signs of a line that is a list; a repeat after a bracket repeats what stands in it."""
    signs: list[Sign] = []
    start, end = 0, -1  # what stands in the last bracket, counted in signs
    for word in words:
        if word.kind is Kind.CODE and not text.decimal:
            signs.append(Sign(word.code, word.times, line))
        elif word.kind <= Kind.NUMBER:
            if text.decimal:
                signs.append(Sign(narrow(int(word.text), 2), 1, line))
        elif word.kind is Kind.REPEAT:
            if signs:
                _repeat(text, signs, start if end == len(signs) and end - start > 1 else len(signs) - 1, word.times)
        elif word.kind is Kind.OPEN:
            start = len(signs)
        elif word.kind is Kind.CLOSE:
            end = len(signs)
    return signs


def _repeat(text: Text, signs: list[Sign], start: int, count: int) -> None:
    size = len(signs) - start
    if size == 1:
        signs[-1] = signs[-1]._replace(times=max(count, 1))
    elif size * count <= text.budget:
        text.budget -= size * count
        signs.extend(signs[start:] * (count - 1))
    elif text.budget >= 0:
        text.budget = -1
        text.notes.append("A group repeats too often to be written out; it was read once.")


def _little_endian(text: Text) -> list[Sign]:
    """32-bit words from rows of four bytes each, when the last byte of the rows hardly changes while the first does."""
    rows = [(line, words) for line, words, listed in zip(text.lines, text.words, text.listed, strict=True) if listed]
    if len(rows) < 3 or text.decimal or text.console:
        return []
    if not all(
        len(row) in (4, 16) and all(w.kind is Kind.CODE and len(w.code) == 2 and w.times == 1 for w in row) for _, row in rows
    ):
        return []
    quads = [(line, row[k : k + 4]) for line, row in rows for k in range(0, len(row), 4)]
    low, high = {q[0].code for _, q in quads}, {q[3].code for _, q in quads}
    if len(high) > max(1, len(quads) // 8) or len(low) < 3:
        return []
    return [Sign("".join(w.code for w in reversed(q)), 1, line) for line, q in quads]
