"""Two editions advise on the same simulated machines: if one of them is right about the world, what does each advice take?

Machines are drawn from the edition that is taken to be right. An adviser asks by its own knowledge; what the world does not know
gets "can't tell" or mends nothing. Both meet the same machines, so the difference is taken machine by machine.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.history import Event, EventKind, History
from nopost.diagnosis.replay import replay
from nopost.evaluation.episode import SHOP, EpisodeStep, EpisodeStepKind, Simulator
from nopost.evaluation.scores import Estimate, mean_estimate, ratio_estimate
from nopost.evaluation.simulated_machine import SimulatedMachine
from nopost.evaluation.simulation import FEWEST_FOR_WORKERS, MACHINES_PER_JOB, MAX_STEPS, SimulationSpec, sample_machine
from nopost.knowledge.model import UNKNOWN, Knowledge
from nopost.processes import shared_out

OLD, NEW = "old", "new"


@dataclass(frozen=True, slots=True)
class CrossEvaluation:
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
class PairedEpisode:
    """One machine, worked on by both: effort in money, and whether it started."""

    old: float
    new: float
    old_starts: bool
    new_starts: bool


def cross_evaluate(
    old: Knowledge,
    new: Knowledge,
    runs: int,
    seed: int = 1,
    workers: int | None = None,
    progress: Callable[[int], None] = lambda machines: None,
) -> tuple[CrossEvaluation, ...]:
    """The new edition taken to be right, then the old one."""
    return tuple(_evaluate_if_right(old, new, right, runs, seed, workers, progress) for right in (NEW, OLD))


def _evaluate_if_right(
    old: Knowledge, new: Knowledge, right: str, runs: int, seed: int, workers: int | None, progress: Callable[[int], None]
) -> CrossEvaluation:
    jobs = [range(first, min(first + MACHINES_PER_JOB, runs)) for first in range(0, runs, MACHINES_PER_JOB)]
    turns: list[PairedEpisode] = []
    if runs < FEWEST_FOR_WORKERS or workers == 1:
        benches = Simulator(old), Simulator(new)
        found = (_run_pairs(*benches, right, seed, job) for job in jobs)
    else:
        found = shared_out(_prepare_worker, (old, new, right, seed), _run_job, jobs, workers)  # type: ignore[assignment]
    for rows in found:
        turns += rows
        progress(len(rows))
    return _summarised(right, turns)


def _summarised(right: str, turns: Sequence[PairedEpisode]) -> CrossEvaluation:
    before, after = np.array([t.old for t in turns]), np.array([t.new for t in turns])
    return CrossEvaluation(
        right=right,
        machines=len(turns),
        old=mean_estimate(before),
        new=mean_estimate(after),
        difference=mean_estimate(after - before),
        quotient=ratio_estimate(after, before),
        repaired_old=sum(t.old_starts for t in turns) / len(turns),
        repaired_new=sum(t.new_starts for t in turns) / len(turns),
    )


def _run_pairs(old: Simulator, new: Simulator, right: str, seed: int, machines: range) -> list[PairedEpisode]:
    world = new if right == NEW else old
    rows = []
    for number in machines:
        causes, luck = sample_machine(world, SimulationSpec(seed, ()), number)
        took = [run_advised(world, bench, SimulatedMachine(world.model, causes, luck)) for bench in (old, new)]
        rows.append(PairedEpisode(took[0][0], took[1][0], took[0][1], took[1][1]))
    return rows


def run_advised(world: Simulator, adviser: Simulator, machine: SimulatedMachine) -> tuple[float, bool]:
    """Effort in money by the world's prices (the adviser's for what the world does not know), and whether it starts."""
    history = History()
    spent = 0.0
    while not machine.starts:
        seen = replay(history, adviser.knowledge)

        def think(seen: object = seen) -> EpisodeStep:
            step = adviser.assessor.assess(seen, adviser.person).advice.step  # type: ignore[arg-type]
            return (
                SHOP
                if step.kind is StepKind.LAST_RESORT
                else EpisodeStep(EpisodeStepKind.LOOK if step.kind is StepKind.ASK else EpisodeStepKind.DO, step.id)
            )

        move = adviser.remember("advice", seen, think) if len(history.events) < MAX_STEPS else SHOP
        spent += (world if move in world.cost or move is SHOP else adviser).price(move)
        if move == SHOP:
            break
        history = history.with_event(_event_after(world, adviser, machine, move))
    return spent, machine.starts


def _event_after(world: Simulator, adviser: Simulator, machine: SimulatedMachine, move: EpisodeStep) -> Event:
    """What comes of a move, in the adviser's words."""
    if move.kind is EpisodeStepKind.DO:
        outcome = machine.do(move.id) if move.id in world.knowledge.actions else "same"
        return Event(EventKind.TRIED, move.id, outcome, "")
    answer = machine.look(move.id) if move.id in world.knowledge.findings else UNKNOWN
    known = adviser.knowledge.findings[move.id]
    return Event(EventKind.ANSWER, move.id, answer if answer in known.answer_ids else UNKNOWN, "")


# -- in the workers -----------------------------------------------------------------------------------------------------

_of_this_worker: list[tuple[Simulator, Simulator, str, int]] = []
"""The one of this worker."""


def _prepare_worker(old: Knowledge, new: Knowledge, right: str, seed: int) -> None:
    _of_this_worker.append((Simulator(old), Simulator(new), right, seed))


def _run_job(machines: range) -> list[PairedEpisode]:
    return _run_pairs(*_of_this_worker[0], machines)
