"""Simulate repairs: many machines, drawn from the knowledge base, each worked on by every strategy, in batches over the cores."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeVar

from nopost.diagnosis.advice.adviser import StepKind
from nopost.errors import NopostError, UnknownNameError
from nopost.evaluation.episode import SHOP, Episode, EpisodeStep, Simulator
from nopost.evaluation.simulated_machine import SimulatedMachine, sample_causes
from nopost.evaluation.strategies import STRATEGIES
from nopost.knowledge.model import ABSENT, Knowledge
from nopost.linting.check_checklist import ChecklistEntry
from nopost.processes import shared_out

Prepared = TypeVar("Prepared")
Row = TypeVar("Row")

MACHINES_PER_JOB = 2
"""Machines that a worker takes at once: few, so that Ctrl-C is heard soon."""
FEWEST_FOR_WORKERS = 12
"""With fewer machines than this it is quicker not to start workers."""


def run_machines(
    prepare: Callable[..., Prepared],
    given: tuple[Any, ...],
    run: Callable[[Prepared, range], list[Row]],
    runs: int,
    workers: int | None = None,
    progress: Callable[[int], None] = lambda machines: None,
) -> list[Row]:
    """The rows of the machines 0 to `runs` - 1, in their order.

    `prepare(*given)` makes what all machines of a process share, once in each; `run(prepared, machines)` makes the rows of some.
    Both must be importable and `given` must be picklable. `workers`: processes, None for all cores, 1 for this process alone;
    `progress` is told how many machines are newly done. Raises NopostError when a worker ends by itself.
    """
    jobs = [range(first, min(first + MACHINES_PER_JOB, runs)) for first in range(0, runs, MACHINES_PER_JOB)]
    rows: list[Row] = []
    for job, found in zip(
        jobs, _rows_by_job(prepare, given, run, jobs, 1 if runs < FEWEST_FOR_WORKERS else workers), strict=True
    ):
        rows += found
        progress(len(job))
    return rows


def _rows_by_job(
    prepare: Callable[..., Prepared],
    given: tuple[Any, ...],
    run: Callable[[Prepared, range], list[Row]],
    jobs: list[range],
    workers: int | None,
) -> Iterator[list[Row]]:
    if workers != 1:
        return shared_out(_prepare_worker, (prepare, given), partial(_run_job, run), jobs, workers)
    prepared = prepare(*given)
    return (run(prepared, job) for job in jobs)


# -- in the workers -----------------------------------------------------------------------------------------------------

_of_this_worker: list[Any] = []
"""What this worker prepared."""


def _prepare_worker(prepare: Callable[..., Any], given: tuple[Any, ...]) -> None:
    _of_this_worker.append(prepare(*given))


def _run_job(run: Callable[[Any, range], list[Row]], machines: range) -> list[Row]:
    return run(_of_this_worker[0], machines)


MAX_STEPS = 80
"""After so many steps it goes to the shop, whatever the strategy says."""


@dataclass(frozen=True, slots=True)
class EpisodeResult:
    """One strategy on one machine. Costs are money; they add up to `effort`.

    `look_cost`: of looks and tests; `wrong_fix_cost`: of fixes that could mend nothing that was there; `right_fix_cost`: of the
    other fixes; `shop_cost`. `wrong_fixes`: how many; `risky_steps`: the ids of the steps that carry a risk of damage;
    `forbidden`: steps with power although a sign of danger, truly there, forbids it. `rank`: place of the
    best-placed cause that was there before the end (from 1).
    """

    machine: int
    strategy: str
    causes: tuple[str, ...]
    repaired: bool
    effort: float
    look_cost: float
    wrong_fix_cost: float
    right_fix_cost: float
    shop_cost: float
    questions: int
    fixes: int
    wrong_fixes: int
    risky_steps: tuple[str, ...]
    forbidden: int
    rank: int


def run_episode(simulator: Simulator, name: str, machine: SimulatedMachine, number: int = 0) -> EpisodeResult:
    """Run one episode to the end: the machine starts, or it goes to the shop."""
    strategy = STRATEGIES[name][0]
    episode, remaining = Episode(simulator, machine), [machine.remaining]
    forbids, forbidden = is_power_forbidden(simulator, machine), 0
    while not machine.starts and (not episode.steps or episode.steps[-1][0] != SHOP):
        step = strategy(episode) if len(episode.steps) < MAX_STEPS else SHOP
        if step.kind is StepKind.DO and name not in NOT_HELD_TO_CONDITIONS and not episode.is_possible(step):
            episode.skip(step)
            continue
        forbidden += forbids and step is not SHOP and simulator.item(step).powered
        episode.take(step)
        remaining.append(machine.remaining)
    return _episode_result(episode, name, number, remaining, forbidden)


NOT_HELD_TO_CONDITIONS = frozenset({"advice", "oracle"})
"""The advice chooses among what is possible as far as it knows; the oracle minds nothing."""


def _episode_result(
    episode: Episode, name: str, number: int, remaining: Sequence[tuple[str, ...]], forbidden: int
) -> EpisodeResult:
    simulator, machine = episode.simulator, episode.machine
    cost = {"look_cost": 0.0, "wrong_fix_cost": 0.0, "right_fix_cost": 0.0, "shop_cost": 0.0}
    count = dict.fromkeys(cost, 0)
    for (step, _), price, before in zip(episode.steps, episode.paid, remaining, strict=False):
        what = _cost_category(simulator, step, before)
        cost[what] += price
        count[what] += 1
    return EpisodeResult(
        machine=number,
        strategy=name,
        causes=machine.causes,
        repaired=machine.starts,
        effort=episode.spent,
        **cost,
        questions=count["look_cost"],
        fixes=count["wrong_fix_cost"] + count["right_fix_cost"],
        wrong_fixes=count["wrong_fix_cost"],
        risky_steps=tuple(step.id for step, _ in episode.steps if simulator.is_dangerous(step)),
        forbidden=forbidden,
        rank=1 if name == "oracle" else _rank_of_true_cause(episode, remaining[-2] if len(remaining) > 1 else remaining[-1]),
    )


def _cost_category(simulator: Simulator, step: EpisodeStep, remaining: tuple[str, ...]) -> str:
    """What a step's cost was spent on, given the causes that were there before it."""
    if step.kind is StepKind.LAST_RESORT:
        return "shop_cost"
    if step.kind is StepKind.ASK:
        return "look_cost"
    return "right_fix_cost" if simulator.causes_mended_by[step.id] & {*remaining} else "wrong_fix_cost"


def _rank_of_true_cause(episode: Episode, remaining: tuple[str, ...]) -> int:
    """Place of the best-placed true cause in the belief at the end; after the fix that made it start, among what that mends."""
    simulator = episode.simulator
    believed = simulator.diagnostician.ranker.rank(episode.seen).ranking
    if episode.machine.starts:
        fix = episode.steps[-1][0].id
        weighed = [(cause, p * simulator.knowledge.causes[cause].fixes.get(fix, 0.0)) for cause, p in believed]
        believed = tuple(sorted(weighed, key=lambda pair: (-pair[1], pair[0])))
    places = [k for k, (cause, _) in enumerate(believed, start=1) if cause in remaining]
    return min(places, default=0)


def is_power_forbidden(simulator: Simulator, machine: SimulatedMachine) -> bool:
    """Whether what is truly to be seen raises a hazard under which nothing that needs power is done."""
    answers = {name: machine.true_answer(name) for name in simulator.knowledge.base.opening if machine.can_be_seen(name)}
    return simulator.forbids_power(simulator.outcome({name: a for name, a in answers.items() if a != ABSENT}, machine.facts))


@dataclass(frozen=True)
class SimulationSpec:
    """What is to be simulated."""

    seed: int
    strategies: tuple[str, ...]
    cause: str = ""
    two_faults: bool = True
    unlisted: bool = False


@dataclass(frozen=True)
class SimulationResult:
    """All episodes, machine by machine, and for each the strategies in order; every strategy meets the same machines."""

    knowledge: str
    edition: str
    digest: str
    runs: int
    seed: int
    strategies: tuple[str, ...]
    episodes: tuple[EpisodeResult, ...]

    def of(self, strategy: str) -> tuple[EpisodeResult, ...]:
        """The episodes of one strategy, in order of the machines."""
        return tuple(episode for episode in self.episodes if episode.strategy == strategy)


def simulate(
    knowledge: Knowledge,
    runs: int = 400,
    seed: int = 1,
    strategies: Sequence[str] = (),
    workers: int | None = None,
    progress: Callable[[int], None] = lambda machines: None,
    *,
    checklist: Sequence[ChecklistEntry] = (),
    cause: str = "",
    two_faults: bool = True,
    unlisted: bool = False,
) -> SimulationResult:
    """Draw `runs` machines and run every strategy on each (all that can be run, when none is named).

    `workers`: processes, None for all cores; they are started afresh, so a program that calls this needs the usual guard of its
    main module. `progress` is told how many machines are newly done. `cause`: only machines with it; `two_faults`: pairs too;
    `unlisted`: also a cause that nobody wrote down. The fixed checklist needs one. Raises UnknownNameError and NopostError.
    """
    if cause and cause not in knowledge.causes:
        raise UnknownNameError("cause", cause, knowledge.causes)
    spec = SimulationSpec(seed, _selected_strategies(strategies, checklist), cause, two_faults, unlisted)
    given = (knowledge, tuple(checklist), spec)
    results = run_machines(_prepare, given, _run_episodes, runs, workers, progress)
    base = knowledge.base
    return SimulationResult(base.name, base.edition, knowledge.digest, runs, seed, spec.strategies, tuple(results))


def _selected_strategies(strategies: Sequence[str], checklist: Sequence[ChecklistEntry]) -> tuple[str, ...]:
    """The strategies in the order of the table."""
    for name in strategies:
        if name not in STRATEGIES:
            raise UnknownNameError("strategy", name, STRATEGIES)
    if "checklist" in strategies and not checklist:
        raise NopostError("this knowledge base has no checklist: write one to checklist.yaml beside base.yaml")
    wanted = strategies or [name for name in STRATEGIES if name != "checklist" or checklist]
    return tuple(name for name in STRATEGIES if name in wanted)


def _prepare(
    knowledge: Knowledge, checklist: tuple[ChecklistEntry, ...], spec: SimulationSpec
) -> tuple[Simulator, SimulationSpec]:
    return Simulator(knowledge, checklist), spec


def _run_episodes(prepared: tuple[Simulator, SimulationSpec], machines: range) -> list[EpisodeResult]:
    """The episodes of these machines."""
    simulator, spec = prepared
    rows = []
    for number in machines:
        causes, seed = sample_machine(simulator, spec, number)
        rows += [
            run_episode(simulator, name, SimulatedMachine(simulator.model, causes, seed), number) for name in spec.strategies
        ]
    return rows


def sample_machine(simulator: Simulator, spec: SimulationSpec, number: int) -> tuple[tuple[str, ...], int]:
    """The causes and the seed of a machine: they depend on the order's seed and the machine's number alone."""
    rng = random.Random(f"{spec.seed} {number}")
    causes = sample_causes(simulator.model, rng, two_faults=spec.two_faults, cause=spec.cause, unlisted=spec.unlisted)
    return causes, rng.getrandbits(63)
