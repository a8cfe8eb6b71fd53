"""How likely a sequence of codes is when a given table is the right one, and when no known table is.

First-order Markov model of one table. The next code is, from the place where the last known step stands: a step forward
(near ones likelier), the same step once more, any code of the table, an error code, one of the first codes (a restart),
or something that the table does not have. The unknown table knows no codes; it learns which recur: Dirichlet predictive
over all values of that width (Ferguson 1973; each code seen before gets its count, every other value an even share of
`CONCENTRATION`).

All weights are judgement. Everything is a natural logarithm; one pass over the codes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from nopost.codes.code_events import BLANK_CODES, CodeEvent, CodeForm
from nopost.codes.tables import IndexedTable

FORWARD, AGAIN, ANY, ERROR, RESTART, FOREIGN = 0.60, 0.03, 0.20, 0.06, 0.07, 0.04
"""What comes next. FOREIGN: a code that the table does not have."""
FIRST_NEAR, FIRST_ANY, FIRST_ERROR, FIRST_FOREIGN = 0.45, 0.41, 0.10, 0.04
"""What comes first: a record may begin anywhere."""
NEAR, FAR = 0.55, 0.12
"""Chance that a step forward ends at each row: half of the steps are short, half may leave much out."""
FIRST = 0.3
"""The same for restarts, counted from the first row."""
WIDE = 0.1
"""Chance that a longer word carries the code in its low byte."""
RUN, LONG_RUN, UNKNOWN_RUN = 0.15, 0.35, 0.2
"""Chance that a code is noted more than once in a row; LONG_RUN for rows that may repeat."""
CONCENTRATION = 50.0
LOG_CONCENTRATION = math.log(CONCENTRATION)
LOG_DIGIT = 4 * math.log(2)
COUNTED = 2
"""So often the same pair of neighbours counts: a loop that goes on is no new evidence."""
REMEMBERED = 1024
"""Codes whose chances are kept for each table."""
VALUES = {CodeForm.BEEPS: 64, CodeForm.LAMPS: 16, CodeForm.STATES: 32, CodeForm.FIRMWARE_EVENTS: 512}
"""So many different signs there could be; for hex it follows from the digits."""


class CodeRun(NamedTuple):
    """One code, noted once or more in a row. `log_values`: log of the number of values a code of this width can have.

    `counted`: whether it is evidence, or a repetition of a pair of neighbours seen often enough.
    """

    code: str
    kind: str = ""
    again: bool = False
    log_values: float = 0.0
    counted: bool = True


def code_runs(events: Iterable[CodeEvent], form: CodeForm) -> list[CodeRun]:
    """Events with equal neighbours joined and silent ones left out."""
    joined: list[CodeRun] = []
    widths: dict[int, float] = {}
    silent = BLANK_CODES if form is CodeForm.HEX else frozenset()
    code = kind = None
    for event in events:
        if event.code in silent:
            continue
        if event.code != code or event.kind != kind:
            code, kind = event.code, event.kind
            log_values = widths.get(len(code)) or widths.setdefault(len(code), _log_values(len(code), form))
            joined.append(CodeRun(code, kind, event.count > 1, log_values))
        elif not joined[-1].again:
            joined[-1] = joined[-1]._replace(again=True)
    return discount_repeats(joined)


def _log_values(digits: int, form: CodeForm) -> float:
    """Log of the number of values that a code of so many digits can have; digits beyond a 64-bit word count no further."""
    return LOG_DIGIT * min(max(digits, 1), 16) if form is CodeForm.HEX else math.log(VALUES[form])


def discount_repeats(sequence: Iterable[CodeRun]) -> list[CodeRun]:
    """The same runs; from the third time on a pair of neighbours no longer counts."""
    pairs: dict[tuple[str, str], int] = {}
    result, before = [], ""
    for code, kind, again, log_values, _ in sequence:
        seen = pairs.get((before, code), 0)
        pairs[before, code] = seen + 1
        result.append(CodeRun(code, kind, again, log_values, seen < COUNTED))
        before = code
    return result


def unknown_log_likelihood(sequence: Iterable[CodeRun]) -> float:
    """Log likelihood under the unknown table; the order of the codes does not matter to it."""
    seen: dict[str, int] = {}
    total, again, n = 0.0, 0, 0
    for run in sequence:
        if run.counted:
            before = seen.get(run.code, 0)
            log_fresh = LOG_CONCENTRATION - run.log_values
            total += math.log(before + math.exp(log_fresh)) if before else log_fresh
            seen[run.code] = before + 1
            again, n = again + run.again, n + 1
    total += again * math.log(UNKNOWN_RUN) + (n - again) * math.log(1 - UNKNOWN_RUN)
    return total + math.lgamma(CONCENTRATION) - math.lgamma(CONCENTRATION + n)


@dataclass(frozen=True, slots=True)
class CodeLikelihood:
    """What a code is in a table: its step (None for error codes), whether it is known at all, the log of chances by place.

    `log_chances`: (steps + 1,) log P(code, noted once | last known step); the last entry is for no step yet. `log_again`: what
    is added when it is noted more than once.
    """

    step: int | None
    known: bool
    log_chances: tuple[float, ...]
    log_again: float


class TableModel:
    """The first-order model of one table, compiled as codes are met."""

    def __init__(self, table: IndexedTable) -> None:
        self.table = table
        progress = [row for row, code in enumerate(table.codes) if code.kind != "error"]
        self._steps = {row: step for step, row in enumerate(progress)}
        self._errors = len(table.codes) - len(progress)
        self._likelihoods: dict[tuple[str, str], CodeLikelihood] = {}
        self._foreign_codes: dict[float, CodeLikelihood] = {}
        self._after = _shares((FORWARD, AGAIN, ANY, ERROR, RESTART), len(progress), self._errors, FOREIGN)
        self._first = _shares((0.0, 0.0, FIRST_ANY, FIRST_ERROR, FIRST_NEAR), len(progress), self._errors, FIRST_FOREIGN)

    def log_likelihood(self, sequence: Iterable[CodeRun]) -> float:
        """Log probability of the counted runs, each given the last known step before it."""
        total, at, remembered = 0.0, -1, self._likelihoods
        for run in sequence:
            code = remembered.get(run[:2]) or self.likelihood_of(run)
            if run.counted:
                total += code.log_chances[at]
                if run.again:
                    total += code.log_again
            if code.step is not None:
                at = code.step
        return total

    def likelihood_of(self, run: CodeRun) -> CodeLikelihood:
        """The likelihood of the code of a run under this table, from memory when it was met before."""
        found = self._likelihoods.get(run[:2])
        if found is None:
            found = self._compile(run)
            if len(self._likelihoods) < REMEMBERED:
                self._likelihoods[run[:2]] = found
        return found

    def _compile(self, run: CodeRun) -> CodeLikelihood:
        found = self.table.look_up(run.code)
        rows = [row for row in found.rows if not run.kind or (run.kind == "error") == (row not in self._steps)]
        if not rows:
            return self._foreign(run.log_values)
        step = next((self._steps[row] for row in rows if row in self._steps), None)
        scale = math.log(WIDE) + math.log(256) - run.log_values if found.wide else 0.0
        rate = LONG_RUN if any(self.table.codes[row].repeats for row in rows) else RUN
        scale += math.log(1 - rate)
        log_chances = tuple(math.log(chance) + scale for chance in self._chances(rows, step))
        return CodeLikelihood(step, True, log_chances, math.log(rate) - math.log(1 - rate))

    def _foreign(self, log_values: float) -> CodeLikelihood:
        """A code that the table does not have: any value of its width, wherever it comes."""
        if log_values not in self._foreign_codes:
            chance = math.log(FOREIGN) - log_values + math.log(1 - UNKNOWN_RUN)
            again = math.log(UNKNOWN_RUN) - math.log(1 - UNKNOWN_RUN)
            self._foreign_codes[log_values] = CodeLikelihood(None, False, (chance,) * (len(self._steps) + 1), again)
        return self._foreign_codes[log_values]

    def _chances(self, rows: Sequence[int], step: int | None) -> list[float]:
        """(steps + 1,) P(code of these rows | last known step); last: none yet."""
        errors = sum(row not in self._steps for row in rows)
        return [self._chance(at, len(rows), errors, step, self._after) for at in range(len(self._steps))] + [
            self._chance(-1, len(rows), errors, step, self._first)
        ]

    def _chance(self, at: int, rows: int, errors: int, step: int | None, shares: Sequence[float]) -> float:
        forward, again, anything, error, restart = shares
        steps = len(self._steps)
        chance = anything * rows / len(self.table.codes) + (error * errors / self._errors if self._errors else 0.0)
        if step is None:
            return chance
        chance += restart * _geometric(step, steps, FIRST) + again * (step == at)
        if step > at:
            ahead, over = step - at - 1, steps - at - 1
            chance += forward * (_geometric(ahead, over, NEAR) + _geometric(ahead, over, FAR)) / 2
        return chance


@lru_cache(maxsize=64)
def model_of(table: IndexedTable) -> TableModel:
    """The model of a table, made once."""
    return TableModel(table)


def _shares(weights: tuple[float, ...], steps: int, errors: int, foreign: float) -> tuple[float, ...]:
    """Shares of forward, again, any, error, restart; what the table cannot do (it has no steps, no errors) goes to the others."""
    possible = (steps > 0, steps > 0, True, errors > 0, steps > 0)
    kept = [w if p else 0.0 for w, p in zip(weights, possible, strict=True)]
    return tuple(w * (1 - foreign) / sum(kept) for w in kept)


def _geometric(k: int, n: int, rate: float) -> float:
    """P(k) on 0..n-1, each `1 - rate` times the one before."""
    return float(rate * (1 - rate) ** k / (1 - (1 - rate) ** n))
