"""Which boots are alike, so that a drawing shows the first, the last and how many lie between; and which make up a loop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nopost.codes.boots import Boot
from nopost.codes.likelihood import BLANK
from nopost.codes.periods import within_one
from nopost.codes.phase_words import counted, short_code
from nopost.codes.trace import Trace
from nopost.codes.verdict import Outcome

MOST_ROWS = 6
"""With more rows than this only the first boot, the last one and words for the rest are shown."""


@dataclass(frozen=True, slots=True)
class Between:
    """Boots that are not drawn, from `first` to `last` (numbers from 1), and what is said of them."""

    first: int
    last: int
    words: str


def shown_codes(boot: Boot) -> tuple[str, ...]:
    """What a boot showed, equal neighbours and blanks left out."""
    codes = [event.code for event in boot.events if event.code not in BLANK]
    return tuple(code for i, code in enumerate(codes) if i == 0 or code != codes[i - 1])


def arranged(boots: Sequence[Boot]) -> list[int | Between]:
    """Rows of a drawing: indexes of the boots to draw, and what lies between."""
    codes = [shown_codes(boot) for boot in boots]
    rows: list[int | Between] = []
    start = 0
    while start < len(boots) - 1:
        end = start + 1
        while end < len(boots) - 1 and within_one(codes[end], codes[start]):
            end += 1
        rows.append(start)
        if end - start > 1:
            rows.append(_between(codes, start + 1, end))
        start = end
    if boots:
        rows.append(len(boots) - 1)
    if len(rows) <= MOST_ROWS:
        return rows
    return [0, _between(codes, 1, len(boots) - 1), len(boots) - 1]


def _between(codes: Sequence[tuple[str, ...]], start: int, stop: int) -> Between:
    """Words for the boots from index `start` to before `stop`."""
    first, last = codes[start - 1], codes[-1]
    like = [within_one(one, first) for one in codes[start:stop]]
    near = sum(alike and one != first for alike, one in zip(like, codes[start:stop], strict=True))
    if stop - start == 1:
        numbers, every = f"Boot {stop:,}: ", ""
    else:
        numbers, every = f"Boots {start + 1:,} to {stop:,}: ", f"all {stop - start:,} "
    if all(like):
        but = "" if not near else ", but for one code" if near == len(like) else f", {near:,} of them but for one code"
        return Between(start + 1, stop, f"{numbers}{every}like boot {start:,}{but}")
    as_last = sum(not a and within_one(one, last) for a, one in zip(like, codes[start:stop], strict=True))
    told = [(sum(like), f"like boot {start:,}"), (as_last, f"like boot {len(codes):,}")]
    told.append((len(like) - sum(like) - as_last, "unlike the first and the last"))
    return Between(start + 1, stop, numbers + ", ".join(f"{n:,} {words}" for n, words in told if n))


@dataclass(frozen=True, slots=True)
class Loop:
    """A restart loop: boots from `first` to `last` (numbers from 1); `times`: whole rounds, 0 when rounds are not alike."""

    first: int
    last: int
    times: int
    short: str
    words: str


def loop_of(trace: Trace) -> Loop | None:
    """The loop at the end of the record, when that is the outcome."""
    boots = trace.boots
    if trace.outcome is not Outcome.RESTART_LOOP or len(boots) < 2:
        return None
    if trace.period is None:
        return Loop(
            1, len(boots), 0, counted(len(boots), "boot"), f"{counted(len(boots) - 1, 'restart')}, the rounds are not alike"
        )
    first = len(boots)
    covered = 0
    while first > 0 and covered + len(shown_codes(boots[first - 1])) <= trace.period.covered:
        first -= 1
        covered += len(shown_codes(boots[first]))
    rounds = [shown_codes(boot) for boot in boots[first:]]
    length = trace.period.length
    if trace.period.exact and (length > len(rounds[0]) or length == 1):
        times, begun = (covered // length, covered % length > 0) if length > 1 else (len(rounds), False)
    else:
        begun = len(rounds[-1]) < length - 1 or (trace.period.exact and len(rounds[-1]) < length)
        times = len(rounds) - begun
    near = "" if trace.period.exact else ", but for a code lost or doubled"
    more = ", and begun once more" if begun else ""
    words = f"{counted(times, 'time')} the same round, up to {short_code(rounds[0][-1])}{near}{more}"
    return Loop(first + 1, len(boots), times, counted(times, "time"), words)
