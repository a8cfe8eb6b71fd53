"""Run strategies to the end on simulated machines: one result for each episode, many machines on all cores.

An episode ends when the machine starts or goes to the shop. The results are the same whatever the number of cores.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from nopost.errors import NopostError, UnknownNameError
from nopost.evaluation.episode import SHOP, Episode, EpisodeStep, EpisodeStepKind, Simulator
from nopost.evaluation.simulated_machine import SimulatedMachine, sample_causes
from nopost.evaluation.strategies import STRATEGIES
from nopost.knowledge.model import ABSENT, Knowledge
from nopost.linting.check_checklist import ChecklistEntry
from nopost.processes import shared_out

MAX_STEPS = 80
"""After so many steps it goes to the shop, whatever the strategy says."""


@dataclass(frozen=True, slots=True)
class EpisodeResult:
    """One strategy on one machine. Costs are money; they add up to `effort`.

    `asking`: looks and tests; `wrong`: fixes that could mend nothing that was there; `right`: the other fixes; `shop`.
    `wrong_fixes`: how many; `dangers`: the moves that carry a risk of damage; `forbidden`: moves with power although a sign
    of danger, truly there, forbids it. `rank`: place of the best-placed cause that was left before the end (from 1).
    """

    machine: int
    strategy: str
    causes: tuple[str, ...]
    repaired: bool
    effort: float
    asking: float
    wrong: float
    right: float
    shop: float
    questions: int
    fixes: int
    wrong_fixes: int
    dangers: tuple[str, ...]
    forbidden: int
    rank: int


def run_episode(bench: Simulator, name: str, machine: SimulatedMachine, number: int = 0) -> EpisodeResult:
    """Play to the end: the machine starts, or it goes to the shop."""
    strategy = STRATEGIES[name][0]
    game, left = Episode(bench, machine), [machine.left]
    forbids, forbidden = is_power_forbidden(bench, machine), 0
    while not machine.starts and (not game.moves or game.moves[-1][0] != SHOP):
        move = strategy(game) if len(game.moves) < MAX_STEPS else SHOP
        if move.kind is EpisodeStepKind.DO and name not in NOT_HELD_TO_CONDITIONS and not game.is_possible(move):
            game.skip(move)
            continue
        forbidden += forbids and move is not SHOP and bench.item(move).powered
        game.make(move)
        left.append(machine.left)
    return _episode_result(game, name, number, left, forbidden)


NOT_HELD_TO_CONDITIONS = frozenset({"advice", "all-knowing"})
"""The advice chooses among what is possible as far as it knows; the bound minds nothing."""


def _episode_result(game: Episode, name: str, number: int, left: Sequence[tuple[str, ...]], forbidden: int) -> EpisodeResult:
    bench, machine = game.bench, game.machine
    cost = {"asking": 0.0, "wrong": 0.0, "right": 0.0, "shop": 0.0}
    count = dict.fromkeys(cost, 0)
    for (move, _), before in zip(game.moves, left, strict=False):
        what = _cost_category(bench, move, before)
        cost[what] += bench.price(move)
        count[what] += 1
    return EpisodeResult(
        machine=number,
        strategy=name,
        causes=machine.causes,
        repaired=machine.starts,
        effort=game.spent,
        **cost,
        questions=count["asking"],
        fixes=count["wrong"] + count["right"],
        wrong_fixes=count["wrong"],
        dangers=tuple(move.id for move, _ in game.moves if bench.is_dangerous(move)),
        forbidden=forbidden,
        rank=1 if name == "all-knowing" else _rank_of_true_cause(game, left[-2] if len(left) > 1 else left[-1]),
    )


def _cost_category(bench: Simulator, move: EpisodeStep, left: tuple[str, ...]) -> str:
    """What a move's cost was spent on, given the causes that were left before it."""
    if move.kind is EpisodeStepKind.SHOP:
        return "shop"
    if move.kind is EpisodeStepKind.LOOK:
        return "asking"
    return "right" if bench.mending[move.id] & {*left} else "wrong"


def _rank_of_true_cause(game: Episode, left: tuple[str, ...]) -> int:
    """Place of the best-placed true cause in the belief at the end; after the fix that made it start, among what that mends."""
    bench = game.bench
    believed = bench.assessor.ranker.rank(game.seen).ranking
    if game.machine.starts:
        fix = game.moves[-1][0].id
        weighed = [(cause, p * bench.knowledge.causes[cause].fixes.get(fix, 0.0)) for cause, p in believed]
        believed = tuple(sorted(weighed, key=lambda pair: (-pair[1], pair[0])))
    places = [k for k, (cause, _) in enumerate(believed, start=1) if cause in left]
    return min(places, default=0)


def is_power_forbidden(bench: Simulator, machine: SimulatedMachine) -> bool:
    """Whether what is truly to be seen raises a hazard under which nothing that needs power is done."""
    answers = {name: machine.true_answer(name) for name in bench.knowledge.base.opening if machine.can_be_seen(name)}
    return bench.stops(bench.outcome({name: a for name, a in answers.items() if a != ABSENT}, machine.facts))


MACHINES_PER_JOB = 2
"""Machines that a worker takes at once: few, so that Ctrl-C is heard soon."""
FEWEST_FOR_WORKERS = 12
"""With fewer machines than this it is quicker not to start workers."""


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
    """All games. `plays`: machine by machine, and for each the strategies in order; every strategy meets the same machines."""

    knowledge: str
    edition: str
    digest: str
    runs: int
    seed: int
    strategies: tuple[str, ...]
    plays: tuple[EpisodeResult, ...]

    def of(self, strategy: str) -> tuple[EpisodeResult, ...]:
        """The games of one strategy, in order of the machines."""
        return tuple(play for play in self.plays if play.strategy == strategy)


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
    """Draw `runs` machines and play every strategy on each (all that can be played, when none is named).

    `workers`: processes, None for all cores; they are started afresh, so a program that calls this needs the usual guard of its
    main module. `progress` is told how many machines are newly done. `cause`: only machines with it; `two_faults`: pairs too;
    `unlisted`: also a cause that nobody wrote down. The fixed checklist needs one. Raises UnknownNameError and NopostError.
    """
    if cause and cause not in knowledge.causes:
        raise UnknownNameError("cause", cause, knowledge.causes)
    order = SimulationSpec(seed, _selected_strategies(strategies, checklist), cause, two_faults, unlisted)
    jobs = [range(first, min(first + MACHINES_PER_JOB, runs)) for first in range(0, runs, MACHINES_PER_JOB)]
    plays: list[EpisodeResult] = []
    for rows in _episode_results(knowledge, checklist, order, jobs, 1 if runs < FEWEST_FOR_WORKERS else workers):
        plays += rows
        progress(len(rows) // len(order.strategies))
    base = knowledge.base
    return SimulationResult(base.name, base.edition, knowledge.digest, runs, seed, order.strategies, tuple(plays))


def _selected_strategies(strategies: Sequence[str], checklist: Sequence[ChecklistEntry]) -> tuple[str, ...]:
    """The strategies in the order of the table."""
    for name in strategies:
        if name not in STRATEGIES:
            raise UnknownNameError("strategy", name, STRATEGIES)
    if "checklist" in strategies and not checklist:
        raise NopostError("this knowledge base has no checklist: write one to checklist.yaml beside base.yaml")
    wanted = strategies or [name for name in STRATEGIES if name != "checklist" or checklist]
    return tuple(name for name in STRATEGIES if name in wanted)


def _episode_results(
    knowledge: Knowledge, checklist: Sequence[ChecklistEntry], order: SimulationSpec, jobs: Sequence[range], workers: int | None
) -> Iterator[list[EpisodeResult]]:
    if workers == 1:
        bench = Simulator(knowledge, checklist)
        return (run_episodes(bench, order, job) for job in jobs)
    return shared_out(_prepare_worker, (knowledge, tuple(checklist), order), _run_job, jobs, workers)


def run_episodes(bench: Simulator, order: SimulationSpec, machines: range) -> list[EpisodeResult]:
    """The games of these machines."""
    rows = []
    for number in machines:
        causes, seed = sample_machine(bench, order, number)
        rows += [run_episode(bench, name, SimulatedMachine(bench.model, causes, seed), number) for name in order.strategies]
    return rows


def sample_machine(bench: Simulator, order: SimulationSpec, number: int) -> tuple[tuple[str, ...], int]:
    """The causes and the seed of a machine: they depend on the order's seed and the machine's number alone."""
    rng = random.Random(f"{order.seed} {number}")
    causes = sample_causes(bench.model, rng, two_faults=order.two_faults, cause=order.cause, unlisted=order.unlisted)
    return causes, rng.getrandbits(63)


# -- in the workers -----------------------------------------------------------------------------------------------------

_of_this_worker: list[tuple[Simulator, SimulationSpec]] = []
"""The one of this worker."""


def _prepare_worker(knowledge: Knowledge, checklist: tuple[ChecklistEntry, ...], order: SimulationSpec) -> None:
    _of_this_worker.append((Simulator(knowledge, checklist), order))


def _run_job(machines: range) -> list[EpisodeResult]:
    bench, order = _of_this_worker[0]
    return run_episodes(bench, order, machines)
