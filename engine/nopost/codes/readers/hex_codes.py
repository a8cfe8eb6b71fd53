"""Hexadecimal codes: in lists and lines of text, and in dumps whose rows begin with an address."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import NamedTuple

from nopost.codes.code_events import CodeEvent, CodeForm, CodeReading, EventOrder
from nopost.codes.readers.source_text import LogLine
from nopost.codes.readers.timestamps import order_events
from nopost.codes.readers.tokens import (
    FEW_LINES,
    MAX_EVENTS,
    Token,
    TokenizedText,
    TokenKind,
    codes_with_remark,
    padded_hex,
    tokenize,
    tokenize_lines,
    word_set,
)

_NOT_CODES = re.compile(r"\d{1,4}[-/]\d\d[-/]\d{2,4}|\d{1,3}:\d\d(?::\d\d)?(?:[.,]\d{1,9})?|\d{1,9}\.\d{1,9}(?:\.\d{1,9}){0,4}")
_STATUS = re.compile(r"\b(PROGRESS CODE: |ERROR: C[0-9A-Fa-f]{8}:)V([0-9A-Fa-f]{8}) I[0-9A-Fa-f]")
"""Lines the serial status-code handler of the open UEFI reference firmware (edk2, MdeModulePkg) writes; from memory."""
_NOT_POST = word_set("exit return errno area zip source machine qr bar pass product country")
_LASTING = word_set("for after within about over than every last in until")


class FoundCode(NamedTuple):
    """A code found in a line."""

    code: str
    times: int
    line: LogLine
    kind: str = ""
    status: str = ""


def codes_in_prose(line: LogLine, tokens: Sequence[Token]) -> tuple[list[FoundCode], bool]:
    """Codes of a line with other words, and whether they stand next to a word that speaks of codes."""
    if found := _STATUS.search(line.rest):
        status = found[2].upper()
        return [FoundCode(status, 1, line, "error" if found[1][0] == "E" else "progress", status)], True
    if not any(token.kind is TokenKind.CODE for token in tokens):
        return [], False
    if any(c in line.rest for c in ":./-"):
        tokens = tokenize(_NOT_CODES.sub(" | ", line.rest))
    near: list[FoundCode] = []
    far: list[FoundCode] = []
    speaks, run = False, False  # after a word that speaks of codes; right after a code that counted
    for i, token in enumerate(tokens):
        before = tokens[i - 1] if i else None
        if token.kind is TokenKind.KEYWORD:
            speaks, run = not (before and before.text in _NOT_POST), False
        elif token.kind is TokenKind.CODE:
            if before and before.text == "port" and token.code.lstrip("0") in ("80", "84"):
                speaks, run = True, False
            elif speaks and _is_code(tokens, i, run):
                near.append(FoundCode(token.code, token.times, line))
                run = True
            elif token.strong and not (before and before.text in _LASTING and token.text[-1] in "hH"):
                far.append(FoundCode(token.code, token.times, line))
                speaks, run = False, False
            else:
                speaks, run = False, False
        elif token.kind is TokenKind.REPEAT and run:
            near[-1] = near[-1]._replace(times=max(token.times, 1))
        elif token.kind is TokenKind.WORD or token.kind is TokenKind.NUMBER:
            speaks = run = False
    return (near, True) if near else (far, False)


def _is_code(tokens: Sequence[Token], i: int, run: bool) -> bool:
    """Whether a word of hexadecimal digits after a word that speaks of codes is one, and no quantity or English word."""
    token, after = tokens[i], tokens[i + 1] if i + 1 < len(tokens) else None
    if token.strong:
        return True
    if after and after.unit and token.text.isdecimal():
        return False
    if not token.alpha:
        return True
    if len(token.code) > 2 or not token.text.isupper():
        return run and (after is None or after.kind is TokenKind.CODE)
    return tokens[i - 1].kind is TokenKind.KEYWORD or run


_NEWEST, _OLDEST = re.compile(r"\b(?:newest|latest|last) first\b", re.I), re.compile(r"\b(?:oldest|earliest) first\b", re.I)


def read_hex_codes(lines: Sequence[LogLine], notes: Sequence[str] = (), asked: EventOrder | None = None) -> CodeReading | None:
    """Codes of a text, or None when it has none. `notes`: what was guessed about its lines."""
    text = tokenize_lines(list(lines))
    text.notes.extend(notes)
    codes, unread = _codes(text)
    if not codes:
        codes, unread = _remarked(text)
    if not codes:
        return None
    if len(codes) > MAX_EVENTS:
        text.notes.append(f"Only the last {MAX_EVENTS} of {len(codes)} codes were kept.")
        codes = codes[-MAX_EVENTS:]
    return _reading(text, codes, unread, asked)


def _remarked(text: TokenizedText) -> tuple[list[FoundCode], int]:
    """Codes with a remark of one word before or behind them, in a few lines that say nothing else; all words are then a guess."""
    found = [codes_with_remark(tokens) for tokens in text.tokens]
    codes = [FoundCode(token.code, token.times, line) for line, row in zip(text.lines, found, strict=True) for token in row]
    if len(text.lines) > FEW_LINES or not codes:
        return [], 0
    text.notes.append("A word beside the codes was passed over.")
    return codes, sum(not row for row in found)


def _reading(text: TokenizedText, codes: list[FoundCode], unread: int, asked: EventOrder | None) -> CodeReading:
    clocks = {code.line.clock for code in codes if code.line.clock}
    one = clocks.pop() if len(clocks) == 1 else None
    said = _said_order(text)
    if clocks:
        text.notes.append("The time stamps are of several kinds and were left out.")
    events = [CodeEvent(c.code, c.line.at if one else None, None, c.kind, c.status, c.times, c.line.number) for c in codes]
    done = order_events(events, asked=asked or said, clock=one, indexes=[c.line.running for c in codes])
    if said and not asked:
        text.notes.append(f"The text says that it is ordered {said.value.replace('-', ' ')}.")
    return CodeReading(
        CodeForm.HEX, _source(text, codes), _merged(done.events), done.order, done.given, (*text.notes, *done.notes), unread
    )


def _source(text: TokenizedText, codes: Sequence[FoundCode]) -> str:
    if text.console:
        return "codes among other text"
    if text.decimal:
        return "list of decimal codes"
    wide = {len(code.code) for code in codes}
    return "list of 32-bit words" if wide == {8} else "list of hexadecimal codes"


def _said_order(text: TokenizedText) -> EventOrder | None:
    for line, listed in zip(text.lines, text.listed, strict=True):
        if not listed and " first" in line.rest.lower():
            if _NEWEST.search(line.rest):
                return EventOrder.NEWEST_FIRST
            if _OLDEST.search(line.rest):
                return EventOrder.OLDEST_FIRST
    return None


def _merged(events: Sequence[CodeEvent]) -> tuple[CodeEvent, ...]:
    """Equal codes in a row without times become one with a count."""
    result: list[CodeEvent] = []
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
    # written out: dataclasses.replace takes twice as long
    return tuple(
        e if n == e.count else CodeEvent(e.code, e.at, e.boot, e.kind, e.status, n, e.line)
        for e, n in zip(result, counts, strict=True)
    )


def _codes(text: TokenizedText) -> tuple[list[FoundCode], int]:
    """All codes in the text's order, and the number of lines with none."""
    if quads := _little_endian(text):
        text.notes.append("The rows of four bytes were taken for 32-bit words, low byte first: a guess.")
        return quads, len(text.lines) - len({code.line.number for code in quads})
    found: list[tuple[int, list[FoundCode], bool]] = []
    lists = _ListReader(text)
    opened = False
    more = 0
    for i, (line, tokens) in enumerate(zip(text.lines, text.tokens, strict=True)):
        listed = text.listed[i] and (not text.console or opened or any(token.strong for token in tokens))
        if listed:
            codes = lists.codes(line, tokens)
            more += tokens[-1].kind is TokenKind.ELLIPSIS
            found.append((i, codes, True))
            continue
        codes, keyed = codes_in_prose(line, tokens)
        opened = line.rest.endswith(":") and any(token.kind is TokenKind.KEYWORD for token in tokens)
        found.append((i, codes, keyed))
    if more:
        text.notes.append("Dots say that codes were left out or that the last one goes on.")
    return _chosen(text, found)


def _chosen(text: TokenizedText, found: Sequence[tuple[int, list[FoundCode], bool]]) -> tuple[list[FoundCode], int]:
    """Marked words of prose lines count only when no line has codes next to a word such as post or code."""
    if any(codes and keyed for _, codes, keyed in found):
        left = sum(len(codes) for _, codes, keyed in found if not keyed)
        if left:
            text.notes.append(f"Hexadecimal numbers in lines that do not speak of codes left out: {left}.")
        found = [(i, codes if keyed else [], keyed) for i, codes, keyed in found]
    return [code for _, codes, _ in found for code in codes], sum(not codes for _, codes, _ in found)


@dataclass(slots=True)
class _ListReader:
    """Reads the lines that are lists. `room`: codes that repeated groups may still add; -1 when one did not fit."""

    text: TokenizedText
    room: int = MAX_EVENTS

    def codes(self, line: LogLine, tokens: Sequence[Token]) -> list[FoundCode]:
        """The codes of a line; a repeat after a bracket repeats what stands in it."""
        codes: list[FoundCode] = []
        start, end = 0, -1  # what stands in the last bracket, counted in codes
        for token in tokens:
            if token.kind is TokenKind.CODE and not self.text.decimal:
                codes.append(FoundCode(token.code, token.times, line))
            elif token.kind <= TokenKind.NUMBER:
                if self.text.decimal:
                    codes.append(FoundCode(padded_hex(int(token.text), 2), 1, line))
            elif token.kind is TokenKind.REPEAT:
                if codes:
                    self._repeat(codes, start if end == len(codes) and end - start > 1 else len(codes) - 1, token.times)
            elif token.kind is TokenKind.OPEN:
                start = len(codes)
            elif token.kind is TokenKind.CLOSE:
                end = len(codes)
        return codes

    def _repeat(self, codes: list[FoundCode], start: int, count: int) -> None:
        """Repeat the codes from `start` on; a group that would fill the memory stays as it is."""
        size = len(codes) - start
        if size == 1:
            codes[-1] = codes[-1]._replace(times=max(count, 1))
        elif size * count <= self.room:
            self.room -= size * count
            codes.extend(codes[start:] * (count - 1))
        elif self.room >= 0:
            self.room = -1
            self.text.notes.append("A group repeats too often to be written out; it was read once.")


def _little_endian(text: TokenizedText) -> list[FoundCode]:
    """32-bit words from rows of four bytes each, when the last byte of the rows hardly changes while the first does."""
    rows = [(line, tokens) for line, tokens, listed in zip(text.lines, text.tokens, text.listed, strict=True) if listed]
    if len(rows) < 3 or text.decimal or text.console:
        return []
    if not all(
        len(row) in (4, 16) and all(token.kind is TokenKind.CODE and len(token.code) == 2 and token.times == 1 for token in row)
        for _, row in rows
    ):
        return []
    quads = [(line, row[k : k + 4]) for line, row in rows for k in range(0, len(row), 4)]
    low, high = {q[0].code for _, q in quads}, {q[3].code for _, q in quads}
    if len(high) > max(1, len(quads) // 8) or len(low) < 3:
        return []
    return [FoundCode("".join(token.code for token in reversed(q)), 1, line) for line, q in quads]


LONGEST_LINE = 4096
"""Characters of a row of a dump at most."""
ROW_BYTES = 16
LEAST_BYTES = 8
"""A first row of fewer bytes is no row of a dump but a list of codes."""
_TOKEN = re.compile(r"[^\s,;]{1,80}")
_BYTES = re.compile(r"(?:0[xX])?((?:[0-9A-Fa-f]{2}){1,40})[hH]?")
_DUMP = re.compile(r"[0-9A-Fa-f]{8}\s{1,4}(?:[0-9A-Fa-f]{2}\s{1,4}){15}")
"""A row of a dump with an address, which a plain reading would take for data."""
_ADDRESS = re.compile(r"(?:0[xX])?[0-9A-Fa-f]{2,16}:|[0-9A-Fa-f]{8}")


def byte_rows(lines: Iterable[tuple[int, str]]) -> list[tuple[int, bytes]] | None:
    """(line, bytes) of each row; None when more than a tenth of the lines are no such rows. Given up early on other texts."""
    rows: list[tuple[int, bytes]] = []
    bad = 0
    for seen, (number, line) in enumerate(lines):
        data = row_bytes(line)
        if data:
            if not rows and len(data) < LEAST_BYTES:
                return None
            rows.append((number, data))
        else:
            bad += 1
            if bad > 2 + seen // 10:
                return None
    return rows or None


def row_bytes(line: str) -> bytes:
    """The bytes of one row, empty when it has anything else. An address is left out, and after it all that follows 16 bytes."""
    if not _DUMP.match(line):
        with suppress(ValueError):
            return bytes.fromhex(line)
    if len(line) > LONGEST_LINE:
        return b""
    tokens = _TOKEN.findall(line.strip("[](){} \t"))
    addressed = len(tokens) > 1 and bool(_ADDRESS.fullmatch(tokens[0])) and (tokens[0].endswith(":") or len(tokens) > ROW_BYTES)
    data = bytearray()
    for token in tokens[addressed:]:
        if addressed and (len(data) >= ROW_BYTES or (data and token[0] == "|")):
            break
        found = _BYTES.fullmatch(token)
        if not found:
            return b""
        data += bytes.fromhex(found[1])
    return bytes(data)


def records(rows: Sequence[tuple[int, bytes]], size: int) -> list[tuple[int, bytes]]:
    """(line, bytes) of each record of this size: one a row when every row holds whole records, else as one run."""
    result: list[tuple[int, bytes]] = []
    if all(len(data) % size == 0 for _, data in rows):
        for number, data in rows:
            result += [(number, data[k : k + size]) for k in range(0, len(data), size)]
        return result
    joined = bytearray()
    starts: list[int] = []
    for number, data in rows:
        joined += data
        starts += [number] * len(data)
    return [(starts[k], bytes(joined[k : k + size])) for k in range(0, len(joined) - size + 1, size)]
