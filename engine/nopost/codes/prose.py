"""Codes in a line with other words: marked as hexadecimal, or next to a word that speaks of codes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from nopost.codes.timestamps import Line
from nopost.codes.words import Kind, Word, find_words, word_set

_NOT_CODES = re.compile(r"\d{1,4}[-/]\d\d[-/]\d{2,4}|\d{1,3}:\d\d(?::\d\d)?(?:[.,]\d{1,9})?|\d{1,9}\.\d{1,9}(?:\.\d{1,9}){0,4}")
_STATUS = re.compile(r"\b(PROGRESS CODE: |ERROR: C[0-9A-Fa-f]{8}:)V([0-9A-Fa-f]{8}) I[0-9A-Fa-f]")
"""Lines the serial status-code handler of the open UEFI reference firmware (edk2, MdeModulePkg) writes; from memory."""
_NOT_POST = word_set("exit return errno area zip source machine qr bar pass product country")
_LASTING = word_set("for after within about over than every last in until")


class Sign(NamedTuple):
    """A code found in a line."""

    code: str
    times: int
    line: Line
    kind: str = ""
    status: str = ""


def prose_line(line: Line, words: Sequence[Word]) -> tuple[list[Sign], bool]:
    """Codes of a line with other words, and whether they stand next to a word that speaks of codes."""
    if found := _STATUS.search(line.rest):
        status = found[2].upper()
        return [Sign(status, 1, line, "error" if found[1][0] == "E" else "progress", status)], True
    if not any(w.kind is Kind.CODE for w in words):
        return [], False
    if any(c in line.rest for c in ":./-"):
        words = find_words(_NOT_CODES.sub(" | ", line.rest))
    near: list[Sign] = []
    far: list[Sign] = []
    speaks, run = False, False  # after a word that speaks of codes; right after a code that counted
    for i, word in enumerate(words):
        before = words[i - 1] if i else None
        if word.kind is Kind.KEY:
            speaks, run = not (before and before.text in _NOT_POST), False
        elif word.kind is Kind.CODE:
            if before and before.text == "port" and word.code.lstrip("0") in ("80", "84"):
                speaks, run = True, False
            elif speaks and _is_code(words, i, run):
                near.append(Sign(word.code, word.times, line))
                run = True
            elif word.strong and not (before and before.text in _LASTING and word.text[-1] in "hH"):
                far.append(Sign(word.code, word.times, line))
                speaks, run = False, False
            else:
                speaks, run = False, False
        elif word.kind is Kind.REPEAT and run:
            near[-1] = near[-1]._replace(times=max(word.times, 1))
        elif word.kind is Kind.WORD or word.kind is Kind.NUMBER:
            speaks = run = False
    return (near, True) if near else (far, False)


def _is_code(words: Sequence[Word], i: int, run: bool) -> bool:
    """Whether a word of hexadecimal digits after a word that speaks of codes is one, and no quantity or English word."""
    word, after = words[i], words[i + 1] if i + 1 < len(words) else None
    if word.strong:
        return True
    if after and after.unit and word.text.isdecimal():
        return False
    if not word.alpha:
        return True
    if len(word.code) > 2 or not word.text.isupper():
        return run and (after is None or after.kind is Kind.CODE)
    return words[i - 1].kind is Kind.KEY or run
