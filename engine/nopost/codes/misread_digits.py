"""Codes that a person probably misread on a seven-segment display, tried where the plain reading fits badly.

Segments: a top, b upper right, c lower right, d bottom, e lower left, f upper left, g middle; the patterns are the digits
as such displays show them, with small b and d (common practice, no source). Two ways to go wrong: a digit taken for
another that looks like it, and one segment that no longer lights, the same in every digit. The likeliest sequence of
shown codes is found by dynamic programming (Viterbi 1967); a change must win more than its own improbability.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import product

from nopost.codes.code_events import BLANK_CODES, CodeEvent, CodeForm, EventOrder
from nopost.codes.table_inference import UNKNOWN_MAP, TableInference, table_prior
from nopost.codes.table_likelihood import (
    CodeLikelihood,
    CodeRun,
    TableModel,
    code_runs,
    discount_repeats,
    model_of,
    unknown_log_likelihood,
)
from nopost.codes.tables import IndexedTable, TableSet

PATTERNS = {
    "0": "abcdef",
    "1": "bc",
    "2": "abdeg",
    "3": "abcdg",
    "4": "bcfg",
    "5": "acdfg",
    "6": "acdefg",
    "7": "abc",
    "8": "abcdefg",
    "9": "abcdfg",
    "A": "abcefg",
    "B": "cdefg",
    "C": "adef",
    "D": "bcdeg",
    "E": "adefg",
    "F": "aefg",
}
"""Lit segments of each sign."""
LIT = {sign: frozenset(segments) for sign, segments in PATTERNS.items()}
ALIKE = frozenset(
    frozenset(pair)
    for pair in ("6B", "8B", "0D", "17", "3E", "5S", "2Z", "9G", "0O", "1I", "1L", "69", "56", "08", "0C", "EF", "CE")
)
"""Signs that people take for each other, by shape or when they write them down (common practice, no source)."""
CONFUSED_DISTANCE = 0.5
"""Distance of such a pair; of others it is the number of segments that differ."""
LARGEST_DISTANCE = 2.0
"""Alternatives farther away are not considered."""
DEAD_SEGMENT_DISTANCE = 1.0
"""Distance of one dead segment, however many signs it spoils."""


def distance(seen: str, shown: str) -> float:
    """Between two signs; a letter that no display shows has only the signs it looks like."""
    if seen == shown:
        return 0.0
    if frozenset((seen, shown)) in ALIKE:
        return CONFUSED_DISTANCE
    if seen in LIT and shown in LIT:
        return float(len(LIT[seen] ^ LIT[shown]))
    return math.inf


def misreadings(code: str) -> list[tuple[str, float]]:
    """(code that may have been shown, distance), nearest first: signs mistaken, and one segment dead in all signs."""
    signs = code.strip().upper()
    if not 0 < len(signs) <= 8:
        return []
    best = dict(_mistaken(signs))
    for _, shown in _dead(signs):
        best[shown] = min(DEAD_SEGMENT_DISTANCE, best.get(shown, DEAD_SEGMENT_DISTANCE))
    best.pop(signs, None)
    return sorted(best.items(), key=lambda pair: (pair[1], pair[0]))


def _mistaken(signs: str) -> Iterable[tuple[str, float]]:
    """Whole codes within the farthest distance, built sign by sign."""
    partial = {"": 0.0}
    for seen in signs:
        step = [(shown, d) for shown in PATTERNS if (d := distance(seen, shown)) <= LARGEST_DISTANCE]
        partial = {head + shown: far + d for head, far in partial.items() for shown, d in step if far + d <= LARGEST_DISTANCE}
    return partial.items()


def _dead(signs: str) -> Iterable[tuple[str, str]]:
    """(segment, code) for each segment that no sign has lit, and each code that would look like this without it."""
    if not set(signs) <= set(LIT):
        return
    for segment in "abcdefg":
        choices = [with_segment(sign, segment) for sign in signs]
        if not any(segment in LIT[sign] for sign in signs):
            yield from ((segment, "".join(shown)) for shown in product(*choices))


def with_segment(sign: str, segment: str) -> list[str]:
    """The sign itself, and the one that has this segment besides."""
    return [sign, *(other for other, lit in LIT.items() if lit == LIT[sign] | {segment} and other != sign)]


MISREAD_PROBABILITY = 0.02
"""Chance that one code is noted wrong by the distance of a confused pair. Judgement."""
MISREAD_FACTOR_PER_SEGMENT = 0.1
"""Factor on that for each segment of distance more. Judgement."""
DEAD_SEGMENT_PROBABILITY = 0.002
"""Chance that a display has a dead segment. Judgement."""
LEAST_GAIN = math.log(20)
"""A change must win this much (nats) after its own improbability."""
LONGEST_SEQUENCE = 400
"""Nobody reads more codes than this off a display."""
MOST_ALTERNATIVES = 8
"""So many alternatives of a code are tried."""
LEAST_COVERAGE = 0.5
"""A table that has fewer of the codes than this is not saved by misreadings."""


@dataclass(frozen=True, slots=True)
class Reread:
    """Read `instead` of `code`.

    `position`: from 0, in the events as handed in. `gain`: nats won by this change alone, under `table`. `reason`: in words.
    """

    position: int
    code: str
    instead: str
    gain: float
    table: str = ""
    reason: str = ""


def reread(events: Sequence[CodeEvent], tables: TableSet, inference: TableInference) -> list[Reread]:
    """Codes that were probably noted wrong, in the order of the events.

    Only where the plain reading fits badly: the table does not have all codes, or no table fits. The changes together must be
    worth more than any plain reading. Displays of two digits only.
    """
    if not _worth_trying(events, inference):
        return []
    positions = _positions(events)
    sequence = code_runs(events, CodeForm.HEX)
    if inference.order is EventOrder.NEWEST_FIRST:
        positions, sequence = positions[::-1], discount_repeats(reversed(sequence))
    candidates = _candidates(tables, inference)
    best_plain, weights = _plain(candidates, tables, sequence, inference)
    results = [r for t in candidates for r in _readings(t, sequence, weights[t.id] - best_plain)]
    chosen = max(results, key=lambda r: r.net, default=None)
    return [] if chosen is None else sorted(_changes(chosen, sequence, positions), key=lambda r: r.position)


@dataclass(frozen=True, slots=True)
class _Rereading:
    """A whole sequence read anew: the codes in its order, and what is won after all costs."""

    table: IndexedTable
    codes: tuple[str, ...]
    net: float
    reason: str


def _worth_trying(events: Sequence[CodeEvent], inference: TableInference) -> bool:
    """Short, typed by a person off two digits, and not explained already."""
    typed = len(events) <= LONGEST_SEQUENCE and all(len(e.code) == 2 and not e.status for e in events)
    return inference.form is CodeForm.HEX and typed and (inference.best == UNKNOWN_MAP or inference.coverage < 1)


def _positions(events: Sequence[CodeEvent]) -> list[list[int]]:
    """The events of each run."""
    groups: list[list[int]] = []
    before: tuple[str, str] | None = None
    for position, event in enumerate(events):
        if event.code not in BLANK_CODES:
            if (event.code, event.kind) != before:
                groups.append([])
            groups[-1].append(position)
            before = (event.code, event.kind)
    return groups


def _candidates(tables: TableSet, inference: TableInference) -> list[IndexedTable]:
    """The tables that are hypotheses; one alone when it was given."""
    return [tables.tables[name] for name, p in inference.posterior if name != UNKNOWN_MAP and p > 0]


def _plain(
    candidates: Sequence[IndexedTable], tables: TableSet, sequence: Sequence[CodeRun], inference: TableInference
) -> tuple[float, dict[str, float]]:
    """Log joint of the best plain reading, and the log prior of each table."""
    generic = [t for t in tables.of_form(CodeForm.HEX) if t.generic]
    weights = {name: math.log(p) for name, p in table_prior(candidates, generic).items()}
    joint = [weights[t.id] + model_of(t).log_likelihood(sequence) for t in candidates]
    if dict(inference.posterior)[UNKNOWN_MAP] > 0:
        joint.append(weights[UNKNOWN_MAP] + unknown_log_likelihood(sequence))
    return max(joint, default=math.inf), weights


Options = Callable[[CodeRun], list[tuple[str, float]]]


def _readings(table: IndexedTable, sequence: Sequence[CodeRun], handicap: float) -> Iterable[_Rereading]:
    """Ways to read the sequence anew under one table that win enough."""
    model = model_of(table)
    known = sum(model.likelihood_of(run).known for run in sequence)
    attempts: list[tuple[str, Options, float]] = []
    if known >= LEAST_COVERAGE * len(sequence):
        attempts.append(("a sign taken for one that looks like it", partial(_mistaken_options, model), 0.0))
    for segment in "abcdefg":
        if all(set(run.code) <= set(LIT) and not any(segment in LIT[sign] for sign in run.code) for run in sequence):
            attempts.append(
                (f"segment {segment} never lit", partial(_dead_options, segment), math.log(DEAD_SEGMENT_PROBABILITY) - LEAST_GAIN)
            )
    for reason, options, cost in attempts:
        codes, total = _best_path(model, sequence, options)
        net = handicap + total + cost
        if net >= 0 and any(code != run.code for code, run in zip(codes, sequence, strict=True)):
            yield _Rereading(table, codes, net, reason)


def _mistaken_options(model: TableModel, run: CodeRun) -> list[tuple[str, float]]:
    """The code itself, and where the table does not have it, near ones that it has, each with what it must win."""
    if model.likelihood_of(run).known:
        return [(run.code, 0.0)]
    near = [(code, far) for code, far in misreadings(run.code) if model.likelihood_of(run._replace(code=code)).known]
    return [(run.code, 0.0)] + [(code, _log_mistaken(far) - LEAST_GAIN) for code, far in near[:MOST_ALTERNATIVES]]


def _log_mistaken(far: float) -> float:
    """Log chance that a code this far away was noted."""
    return math.log(MISREAD_PROBABILITY) + (far - CONFUSED_DISTANCE) * math.log(MISREAD_FACTOR_PER_SEGMENT)


def _dead_options(segment: str, run: CodeRun) -> list[tuple[str, float]]:
    """Each code that looks like this without the segment: none is a mistake of the person."""
    return [("".join(signs), 0.0) for signs in product(*(with_segment(sign, segment) for sign in run.code))]


def _best_path(model: TableModel, sequence: Sequence[CodeRun], options: Options) -> tuple[tuple[str, ...], float]:
    """The likeliest sequence of shown codes and its log joint (Viterbi 1967); each state carries the last known step."""
    states: list[tuple[float, int, tuple[str, ...]]] = [(0.0, -1, ())]
    for run in sequence:
        grown = []
        for code, cost in options(run):
            likelihood = model.likelihood_of(run._replace(code=code))
            total, at, path = max(((s + _emit(likelihood, a, run), a, p) for s, a, p in states), key=lambda t: t[0])
            grown.append((total + cost, at if likelihood.step is None else likelihood.step, (*path, code)))
        states = grown
    total, _, path = max(states, key=lambda t: t[0])
    return path, total


def _emit(likelihood: CodeLikelihood, at: int, run: CodeRun) -> float:
    """Log chance of a run from a place; nothing when it is not counted."""
    return likelihood.log_chances[at] + (likelihood.log_again if run.again else 0.0) if run.counted else 0.0


def _changes(chosen: _Rereading, sequence: Sequence[CodeRun], positions: Sequence[Sequence[int]]) -> Iterable[Reread]:
    """Each changed event with what its change alone wins over leaving it."""
    model = model_of(chosen.table)
    after = [run._replace(code=code) for run, code in zip(sequence, chosen.codes, strict=True)]
    total = model.log_likelihood(after)
    for i, (run, shown) in enumerate(zip(sequence, after, strict=True)):
        if run.code != shown.code:
            gain = total - model.log_likelihood([*after[:i], run, *after[i + 1 :]])
            yield from (Reread(p, run.code, shown.code, gain, chosen.table.id, chosen.reason) for p in positions[i])
