"""The text that a reader gets: as it came, and cut into lines without time stamps and running numbers.

`read_lines` takes both off the front of the lines, so that the readers of codes, beeps and lamps see only the rest. The
time is linear in the text, as in `timestamps`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

from nopost.codes.code_events import EventOrder
from nopost.codes.readers.timestamps import SECONDS_PATTERN, ClockKind, read_stamp

MAX_LINES = 100_000
"""Lines read at most; of a longer text the last ones, where the start-up stopped."""

_NUMBER = re.compile(r"(#?)(\d{1,9})(\s{0,4}[:.)\]|]\s{0,8}|\s{0,4},\s{0,8}|\s{1,8})(?=\S)")
_FRONT = frozenset("0123456789[(<+#")
_ESCAPES = re.compile("\x1b\\[[0-9;?]{0,24}[A-Za-z]|[\0-\x08\x0e-\x1b\x7f\ufeff]")


class LogLine(NamedTuple):
    """One line that is not blank, without its time stamp and running number.

    `number` counts from 1; `at` in seconds; `clock`: kind of its time stamp, None without one;
    `running`: its running number, when a first column counts the lines.
    """

    number: int
    rest: str
    at: float | None = None
    clock: ClockKind | None = None
    running: int | None = None


@dataclass(frozen=True)
class SourceText:
    """What is to be read. Either `raw`: bytes that may be records, or `text`; the other is None or empty.

    `order`: how it is ordered, when the person said so. The rest is worked out when a reader first asks for it.
    """

    text: str = ""
    raw: bytes | None = None
    order: EventOrder | None = None

    @cached_property
    def lower(self) -> str:
        """The text in small letters, for a quick look."""
        return self.text.lower()

    @cached_property
    def _read(self) -> tuple[list[LogLine], list[str]]:
        return read_lines(self.text)

    @property
    def lines(self) -> list[LogLine]:
        """The lines that are not blank."""
        return self._read[0]

    @property
    def notes(self) -> list[str]:
        """What was guessed about the lines, as sentences."""
        return self._read[1]


def _stamped(line: LogLine) -> LogLine:
    stamp = read_stamp(line.rest) if line.at is None else None
    rest = line.rest[stamp[2] :].strip() if stamp else ""
    return line._replace(rest=rest, at=stamp[0], clock=stamp[1]) if stamp and rest else line


def read_lines(text: str) -> tuple[list[LogLine], list[str]]:
    """The lines that are not blank, without stamps and running numbers, and notes about what was taken for such."""
    plain = _ESCAPES.sub("", text)
    rows = [(n, s) for n, line in enumerate(plain.splitlines(), 1) if (s := line.strip())]
    notes = []
    if len(rows) > MAX_LINES:
        notes.append(f"Only the last {MAX_LINES} of {len(rows)} lines were read.")
        rows = rows[-MAX_LINES:]
    lines = [_stamped(LogLine(n, s)) if s[0] in _FRONT else LogLine(n, s) for n, s in rows]
    if 2 * sum(line.clock is ClockKind.SINCE_START for line in lines) > len(lines):
        lines = [_whole_second(line) for line in lines]
    lines, said = _take_column(lines)
    return lines, notes + said


def _whole_second(line: LogLine) -> LogLine:
    """A whole number in front, among lines that mostly begin with a fraction of a second, is a time too."""
    found = SECONDS_PATTERN.match(line.rest) if line.at is None else None
    rest = line.rest[found.end() :].strip() if found else ""
    return line._replace(rest=rest, at=float(found[1]), clock=ClockKind.SINCE_START) if found and rest else line


def _take_column(lines: list[LogLine]) -> tuple[list[LogLine], list[str]]:
    """Take away a first column that counts the lines, or tells milliseconds."""
    found = [_NUMBER.match(line.rest) if line.rest[0] in _FRONT else None for line in lines]
    values = [int(m[2]) for m in found if m]
    if len(values) < 2 or len(values) < 0.6 * len(lines):
        return lines, []
    marked = all(m[1] or m[3].strip() not in ("", ",") for m in found if m)
    rests = [line.rest[m.end() :] for line, m in zip(lines, found, strict=True) if m]
    if len(values) >= (2 if marked else 3) and _counts(values) and (marked or min(values) <= 1 or _narrow(rests)):
        taken = [_cut(line, m, index=True) for line, m in zip(lines, found, strict=True)]
        return [_stamped(line) for line in taken], ["The first column counts by one and was taken for line numbers."]
    if not any(line.clock for line in lines) and _tells_time(values, rests):
        taken = [_cut(line, m, index=False) for line, m in zip(lines, found, strict=True)]
        return taken, ["The first column only rises or only falls and was taken for milliseconds."]
    return lines, []


def _cut(line: LogLine, found: re.Match[str] | None, *, index: bool) -> LogLine:
    if not found:
        return line
    rest, value = line.rest[found.end() :], int(found[2])
    return (
        line._replace(rest=rest, running=value)
        if index
        else line._replace(rest=rest, at=value / 1000, clock=ClockKind.SINCE_START)
    )


def _counts(values: Sequence[int]) -> bool:
    steps = [b - a for a, b in pairwise(values)]
    return max(steps.count(1), steps.count(-1)) >= 0.9 * len(steps)


def _tells_time(values: Sequence[int], rests: Sequence[str]) -> bool:
    """Whether numbers look like milliseconds: never turning, not small, and before something that is no decimal number."""
    if len(values) < 3 or max(values) < 1000 or len(set(values)) < 3 or all(rest.isdigit() for rest in rests):
        return False
    pairs = list(pairwise(values))
    if not (all(a <= b for a, b in pairs) or all(a >= b for a, b in pairs)):
        return False
    return _narrow(rests)


def _narrow(rests: Sequence[str]) -> bool:
    """Whether no more than two words follow the column in nearly every line."""
    return sum(len(rest.split(None, 3)) <= 2 for rest in rests) >= 0.9 * len(rests)
