"""Two editions advise on the same simulated machines: if one of them is right about the machines, what does each advice take?

Machines are drawn from the edition that is taken to be right. An adviser asks by its own knowledge; a
finding that the edition taken to be right does not know gets "can't tell", and a fix that it does not know mends nothing. Both
advisers meet the same machines, so the difference is taken machine by machine.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.history import Event, EventKind, History
from nopost.diagnosis.replay import replay
from nopost.evaluation.episode import SHOP, EpisodeStep, Simulator, state_key
from nopost.evaluation.scores import Estimate, mean_estimate, ratio_estimate
from nopost.evaluation.simulated_machine import SimulatedMachine
from nopost.evaluation.simulation import MAX_STEPS, SimulationSpec, run_machines, sample_machine
from nopost.knowledge.model import UNKNOWN, Knowledge

OLD, NEW = "old", "new"


@dataclass(frozen=True, slots=True)
class CrossEvaluation:
    """What both advisers take on machines of one edition (`right`). Efforts are money per machine; intervals hold 95 of 100."""

    right: str
    machines: int
    old: Estimate
    new: Estimate
    difference: Estimate
    ratio: Estimate
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
    return _summarised(right, run_machines(_prepare, (old, new, right, seed), _run_pairs, runs, workers, progress))


_Prepared = tuple[Simulator, Simulator, str, int]
"""The old edition, the new one, which of them is taken to be right, and the seed."""


def _summarised(right: str, turns: Sequence[PairedEpisode]) -> CrossEvaluation:
    before, after = np.array([t.old for t in turns]), np.array([t.new for t in turns])
    return CrossEvaluation(
        right=right,
        machines=len(turns),
        old=mean_estimate(before),
        new=mean_estimate(after),
        difference=mean_estimate(after - before),
        ratio=ratio_estimate(after, before),
        repaired_old=sum(t.old_starts for t in turns) / len(turns),
        repaired_new=sum(t.new_starts for t in turns) / len(turns),
    )


def _prepare(old: Knowledge, new: Knowledge, right: str, seed: int) -> _Prepared:
    return Simulator(old), Simulator(new), right, seed


def _run_pairs(prepared: _Prepared, machines: range) -> list[PairedEpisode]:
    """Both advisers on these machines, which are drawn from the edition that is taken to be right."""
    old, new, right, seed = prepared
    truth = new if right == NEW else old
    rows = []
    for number in machines:
        causes, luck = sample_machine(truth, SimulationSpec(seed, ()), number)
        took = [run_advised(truth, adviser, SimulatedMachine(truth.model, causes, luck)) for adviser in (old, new)]
        rows.append(PairedEpisode(took[0][0], took[1][0], took[0][1], took[1][1]))
    return rows


def run_advised(truth: Simulator, adviser: Simulator, machine: SimulatedMachine) -> tuple[float, bool]:
    """Effort in money, and whether the machine starts.

    `truth`: the edition that the machine is drawn from. Its prices count, and the adviser's for what it does not know.
    """
    history = History()
    spent = 0.0
    while not machine.starts:
        seen = replay(history, adviser.knowledge)

        def compute(seen: object = seen) -> EpisodeStep:
            step = adviser.diagnostician.assess(seen, adviser.person).advice.step  # type: ignore[arg-type]
            return SHOP if step.kind is StepKind.LAST_RESORT else EpisodeStep(step.kind, step.id)

        taken = adviser.cached(state_key("advice", seen), compute) if len(history.events) < MAX_STEPS else SHOP
        payer = truth if taken in truth.cost or taken is SHOP else adviser
        ready = frozenset(seen.ready & payer.knowledge.base.preparations.keys())
        spent += payer.price(taken, ready, machine.remaining)
        if taken == SHOP:
            break
        again = seen.is_second_look(taken.id)
        history = history.with_event(_event_after(truth, adviser, machine, taken, again=again))
    return spent, machine.starts


def _event_after(truth: Simulator, adviser: Simulator, machine: SimulatedMachine, step: EpisodeStep, *, again: bool) -> Event:
    """What comes of a step, in the adviser's words; `again`: it is a second look."""
    if step.kind is StepKind.DO:
        outcome = machine.do(step.id) if step.id in truth.knowledge.actions else "same"
        return Event(EventKind.TRIED, step.id, outcome, "")
    answer = machine.look(step.id) if step.id in truth.knowledge.findings else UNKNOWN
    known = adviser.knowledge.findings[step.id]
    kind = EventKind.LOOKED_AGAIN if again else EventKind.ANSWER
    return Event(kind, step.id, answer if answer in known.answer_ids else UNKNOWN, "")
