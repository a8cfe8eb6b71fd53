"""Codes that a person probably misread on a two-digit display, where the plain reading fits badly."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import product

from nopost.codes.event import Event, Form, Order
from nopost.codes.infer import Inference
from nopost.codes.likelihood import BLANK, MapModel, Run, Spot, marked, model_of, runs, unknown_map
from nopost.codes.scores import UNKNOWN_MAP, prior
from nopost.codes.signs import CONFUSED, LIT, misreadings, with_segment
from nopost.codes.tables import Table, TableSet

__all__ = ["Reread", "misreadings", "reread"]

READ_WRONG = 0.02
"""Chance that one code is noted wrong by the distance of a confused pair. Judgement."""
PER_SEGMENT = 0.1
"""Factor on that for each segment of distance more. Judgement."""
BROKEN = 0.002
"""Chance that a display has a dead segment. Judgement."""
SURE = math.log(20)
"""A change must win this much (nats) after its own improbability."""
MOST = 400
"""Nobody reads more codes than this off a display."""
NEAREST = 8
"""So many alternatives of a code are tried."""
HALF = 0.5
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


def reread(events: Sequence[Event], tables: TableSet, inference: Inference) -> list[Reread]:
    """Codes that were probably noted wrong, in the order of the events.

    Only where the plain reading fits badly: the table does not have all codes, or no table fits. The changes together must be
    worth more than any plain reading. Displays of two digits only.
    """
    if not _worth_trying(events, inference):
        return []
    positions = _positions(events)
    sequence = runs(events, Form.HEX)
    if inference.order is Order.NEWEST_FIRST:
        positions, sequence = positions[::-1], marked(reversed(sequence))
    candidates = _candidates(tables, inference)
    best_plain, weights = _plain(candidates, tables, sequence, inference)
    results = [r for t in candidates for r in _readings(t, sequence, weights[t.id] - best_plain)]
    chosen = max(results, key=lambda r: r.net, default=None)
    return [] if chosen is None else sorted(_changes(chosen, sequence, positions), key=lambda r: r.position)


@dataclass(frozen=True, slots=True)
class _Rereading:
    """A whole sequence read anew: the codes in its order, and what is won after all costs."""

    table: Table
    codes: tuple[str, ...]
    net: float
    reason: str


def _worth_trying(events: Sequence[Event], inference: Inference) -> bool:
    """Short, typed by a person off two digits, and not explained already."""
    typed = len(events) <= MOST and all(len(e.code) == 2 and not e.status for e in events)
    return inference.form is Form.HEX and typed and (inference.best == UNKNOWN_MAP or inference.known < 1)


def _positions(events: Sequence[Event]) -> list[list[int]]:
    """The events of each run."""
    groups: list[list[int]] = []
    before: tuple[str, str] | None = None
    for position, event in enumerate(events):
        if event.code not in BLANK:
            if (event.code, event.kind) != before:
                groups.append([])
            groups[-1].append(position)
            before = (event.code, event.kind)
    return groups


def _candidates(tables: TableSet, inference: Inference) -> list[Table]:
    """The tables that are hypotheses; one alone when it was given."""
    return [tables.tables[name] for name, p in inference.posterior if name != UNKNOWN_MAP and p > 0]


def _plain(
    candidates: Sequence[Table], tables: TableSet, sequence: Sequence[Run], inference: Inference
) -> tuple[float, dict[str, float]]:
    """Log joint of the best plain reading, and the log prior of each table."""
    generic = [t for t in tables.of_form(Form.HEX) if t.generic]
    weights = {name: math.log(p) for name, p in prior(candidates, generic).items()}
    joint = [weights[t.id] + model_of(t).log_likelihood(sequence) for t in candidates]
    if dict(inference.posterior)[UNKNOWN_MAP] > 0:
        joint.append(weights[UNKNOWN_MAP] + unknown_map(sequence))
    return max(joint, default=math.inf), weights


Options = Callable[[Run], list[tuple[str, float]]]


def _readings(table: Table, sequence: Sequence[Run], handicap: float) -> Iterable[_Rereading]:
    """Ways to read the sequence anew under one table that win enough."""
    model = model_of(table)
    known = sum(model.spot(run).known for run in sequence)
    ways: list[tuple[str, Options, float]] = []
    if known >= HALF * len(sequence):
        ways.append(("a sign taken for one that looks like it", partial(_mistaken_options, model), 0.0))
    for segment in "abcdefg":
        if all(set(run.code) <= set(LIT) and not any(segment in LIT[sign] for sign in run.code) for run in sequence):
            ways.append((f"segment {segment} never lit", partial(_dead_options, segment), math.log(BROKEN) - SURE))
    for reason, options, cost in ways:
        codes, total = _best_path(model, sequence, options)
        net = handicap + total + cost
        if net >= 0 and any(code != run.code for code, run in zip(codes, sequence, strict=True)):
            yield _Rereading(table, codes, net, reason)


def _mistaken_options(model: MapModel, run: Run) -> list[tuple[str, float]]:
    """The code itself, and where the table does not have it, near ones that it has, each with what it must win."""
    if model.spot(run).known:
        return [(run.code, 0.0)]
    near = [(code, far) for code, far in misreadings(run.code) if model.spot(run._replace(code=code)).known]
    return [(run.code, 0.0)] + [(code, _log_mistaken(far) - SURE) for code, far in near[:NEAREST]]


def _log_mistaken(far: float) -> float:
    """Log chance that a code this far away was noted."""
    return math.log(READ_WRONG) + (far - CONFUSED) * math.log(PER_SEGMENT)


def _dead_options(segment: str, run: Run) -> list[tuple[str, float]]:
    """Each code that looks like this without the segment: none is a mistake of the person."""
    return [("".join(signs), 0.0) for signs in product(*(with_segment(sign, segment) for sign in run.code))]


def _best_path(model: MapModel, sequence: Sequence[Run], options: Options) -> tuple[tuple[str, ...], float]:
    """The likeliest sequence of shown codes and its log joint (Viterbi 1967); each state carries the last known step."""
    states: list[tuple[float, int, tuple[str, ...]]] = [(0.0, -1, ())]
    for run in sequence:
        grown = []
        for code, cost in options(run):
            spot = model.spot(run._replace(code=code))
            total, at, path = max(((s + _emit(spot, a, run), a, p) for s, a, p in states), key=lambda t: t[0])
            grown.append((total + cost, at if spot.step is None else spot.step, (*path, code)))
        states = grown
    total, _, path = max(states, key=lambda t: t[0])
    return path, total


def _emit(spot: Spot, at: int, run: Run) -> float:
    """Log chance of a run from a place; nothing when it is not counted."""
    return spot.log_chances[at] + (spot.log_again if run.again else 0.0) if run.counted else 0.0


def _changes(chosen: _Rereading, sequence: Sequence[Run], positions: Sequence[Sequence[int]]) -> Iterable[Reread]:
    """Each changed event with what its change alone wins over leaving it."""
    model = model_of(chosen.table)
    after = [run._replace(code=code) for run, code in zip(sequence, chosen.codes, strict=True)]
    total = model.log_likelihood(after)
    for i, (run, shown) in enumerate(zip(sequence, after, strict=True)):
        if run.code != shown.code:
            gain = total - model.log_likelihood([*after[:i], run, *after[i + 1 :]])
            yield from (Reread(p, run.code, shown.code, gain, chosen.table.id, chosen.reason) for p in positions[i])
