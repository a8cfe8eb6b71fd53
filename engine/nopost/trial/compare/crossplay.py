"""Two editions advise on the same simulated machines: if one of them is right about the world, what does each advice take?

Machines are drawn from the edition that is taken to be right. An adviser asks by its own knowledge; what the world does not know
gets "can't tell" or mends nothing. Both meet the same machines, so the difference is taken machine by machine.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from nopost.advice.step import StepKind
from nopost.cases.session import Event, EventKind, Session, observations
from nopost.knowledge.model import UNKNOWN, Knowledge
from nopost.processes import shared_out
from nopost.trial.bench import SHOP, Bench, Kind, Move
from nopost.trial.machine import DeadMachine
from nopost.trial.play import MOST_STEPS
from nopost.trial.score import Estimate, mean, ratio
from nopost.trial.simulate import CHUNK, FEW, Order, drawn

OLD, NEW = "old", "new"


@dataclass(frozen=True, slots=True)
class World:
    """What both advisers take on machines of one edition (`right`). Efforts are money per machine; intervals hold 95 of 100."""

    right: str
    machines: int
    old: Estimate
    new: Estimate
    difference: Estimate
    quotient: Estimate
    repaired_old: float
    repaired_new: float


@dataclass(frozen=True, slots=True)
class Turn:
    """One machine, worked on by both: effort in money, and whether it started."""

    old: float
    new: float
    old_starts: bool
    new_starts: bool


def worlds(
    old: Knowledge,
    new: Knowledge,
    runs: int,
    seed: int = 1,
    workers: int | None = None,
    progress: Callable[[int], None] = lambda machines: None,
) -> tuple[World, ...]:
    """The new edition taken to be right, then the old one."""
    return tuple(_world(old, new, right, runs, seed, workers, progress) for right in (NEW, OLD))


def _world(
    old: Knowledge, new: Knowledge, right: str, runs: int, seed: int, workers: int | None, progress: Callable[[int], None]
) -> World:
    jobs = [range(first, min(first + CHUNK, runs)) for first in range(0, runs, CHUNK)]
    turns: list[Turn] = []
    if runs < FEW or workers == 1:
        benches = Bench(old), Bench(new)
        found = (_turns(*benches, right, seed, job) for job in jobs)
    else:
        found = shared_out(_prepare, (old, new, right, seed), _played, jobs, workers)  # type: ignore[assignment]
    for rows in found:
        turns += rows
        progress(len(rows))
    return _summed(right, turns)


def _summed(right: str, turns: Sequence[Turn]) -> World:
    before, after = np.array([t.old for t in turns]), np.array([t.new for t in turns])
    return World(
        right=right,
        machines=len(turns),
        old=mean(before),
        new=mean(after),
        difference=mean(after - before),
        quotient=ratio(after, before),
        repaired_old=sum(t.old_starts for t in turns) / len(turns),
        repaired_new=sum(t.new_starts for t in turns) / len(turns),
    )


def _turns(old: Bench, new: Bench, right: str, seed: int, machines: range) -> list[Turn]:
    world = new if right == NEW else old
    rows = []
    for number in machines:
        causes, luck = drawn(world, Order(seed, ()), number)
        took = [advised(world, bench, DeadMachine(world.model, causes, luck)) for bench in (old, new)]
        rows.append(Turn(took[0][0], took[1][0], took[0][1], took[1][1]))
    return rows


def advised(world: Bench, adviser: Bench, machine: DeadMachine) -> tuple[float, bool]:
    """Effort in money by the world's prices (the adviser's for what the world does not know), and whether it starts."""
    events: list[Event] = []
    spent = 0.0
    while not machine.starts:
        seen = observations(Session("", "", "", "", "", events=tuple(events)), adviser.knowledge)

        def think(seen: object = seen) -> Move:
            step = adviser.assessor.assess(seen, adviser.person).advice.step  # type: ignore[arg-type]
            return SHOP if step.kind is StepKind.SHOP else Move(Kind.LOOK if step.kind is StepKind.ASK else Kind.DO, step.id)

        move = adviser.remember("advice", seen, think) if len(events) < MOST_STEPS else SHOP
        spent += (world if move in world.cost or move is SHOP else adviser).price(move)
        if move == SHOP:
            break
        events.append(_made(world, adviser, machine, move))
    return spent, machine.starts


def _made(world: Bench, adviser: Bench, machine: DeadMachine, move: Move) -> Event:
    """What comes of a move, in the adviser's words."""
    if move.kind is Kind.DO:
        outcome = machine.do(move.id) if move.id in world.knowledge.actions else "same"
        return Event(EventKind.TRIED, move.id, outcome, "")
    answer = machine.look(move.id) if move.id in world.knowledge.findings else UNKNOWN
    known = adviser.knowledge.findings[move.id]
    return Event(EventKind.ANSWER, move.id, answer if answer in known.answer_ids else UNKNOWN, "")


# -- in the workers -----------------------------------------------------------------------------------------------------

_here: list[tuple[Bench, Bench, str, int]] = []
"""The one of this worker."""


def _prepare(old: Knowledge, new: Knowledge, right: str, seed: int) -> None:
    _here.append((Bench(old), Bench(new), right, seed))


def _played(machines: range) -> list[Turn]:
    return _turns(*_here[0], machines)
