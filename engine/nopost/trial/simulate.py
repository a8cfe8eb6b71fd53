"""Many simulated machines, each repaired by every strategy, on all cores; the same rows whatever the number of cores."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from nopost.errors import NopostError, UnknownNameError
from nopost.knowledge.model import Knowledge
from nopost.processes import shared_out
from nopost.trial.bench import Bench
from nopost.trial.checklist import Entry
from nopost.trial.draw import draw_causes
from nopost.trial.machine import DeadMachine
from nopost.trial.play import Play, play
from nopost.trial.strategies import STRATEGIES

CHUNK = 2
"""Machines that a worker takes at once: few, so that Ctrl-C is heard soon."""
FEW = 12
"""With fewer machines than this it is quicker not to start workers."""


@dataclass(frozen=True)
class Order:
    """What is to be simulated."""

    seed: int
    strategies: tuple[str, ...]
    cause: str = ""
    two_faults: bool = True
    unlisted: bool = False


@dataclass(frozen=True)
class Result:
    """All games. `plays`: machine by machine, and for each the strategies in order; every strategy meets the same machines."""

    knowledge: str
    edition: str
    digest: str
    runs: int
    seed: int
    strategies: tuple[str, ...]
    plays: tuple[Play, ...]

    def of(self, strategy: str) -> tuple[Play, ...]:
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
    checklist: Sequence[Entry] = (),
    cause: str = "",
    two_faults: bool = True,
    unlisted: bool = False,
) -> Result:
    """Draw `runs` machines and play every strategy on each (all that can be played, when none is named).

    `workers`: processes, None for all cores; they are started afresh, so a program that calls this needs the usual guard of its
    main module. `progress` is told how many machines are newly done. `cause`: only machines with it; `two_faults`: pairs too;
    `unlisted`: also a cause that nobody wrote down. The fixed checklist needs one. Raises UnknownNameError and NopostError.
    """
    if cause and cause not in knowledge.causes:
        raise UnknownNameError("cause", cause, knowledge.causes)
    order = Order(seed, _chosen(strategies, checklist), cause, two_faults, unlisted)
    jobs = [range(first, min(first + CHUNK, runs)) for first in range(0, runs, CHUNK)]
    plays: list[Play] = []
    for rows in _all(knowledge, checklist, order, jobs, 1 if runs < FEW else workers):
        plays += rows
        progress(len(rows) // len(order.strategies))
    base = knowledge.base
    return Result(base.name, base.edition, knowledge.digest, runs, seed, order.strategies, tuple(plays))


def _chosen(strategies: Sequence[str], checklist: Sequence[Entry]) -> tuple[str, ...]:
    """The strategies in the order of the table."""
    for name in strategies:
        if name not in STRATEGIES:
            raise UnknownNameError("strategy", name, STRATEGIES)
    if "checklist" in strategies and not checklist:
        raise NopostError("this knowledge base has no checklist: write one to checklist.yaml beside base.yaml")
    wanted = strategies or [name for name in STRATEGIES if name != "checklist" or checklist]
    return tuple(name for name in STRATEGIES if name in wanted)


def _all(
    knowledge: Knowledge, checklist: Sequence[Entry], order: Order, jobs: Sequence[range], workers: int | None
) -> Iterator[list[Play]]:
    if workers == 1:
        bench = Bench(knowledge, checklist)
        return (played(bench, order, job) for job in jobs)
    return shared_out(_prepare, (knowledge, tuple(checklist), order), _played, jobs, workers)


def played(bench: Bench, order: Order, machines: range) -> list[Play]:
    """The games of these machines."""
    rows = []
    for number in machines:
        causes, seed = drawn(bench, order, number)
        rows += [play(bench, name, DeadMachine(bench.model, causes, seed), number) for name in order.strategies]
    return rows


def drawn(bench: Bench, order: Order, number: int) -> tuple[tuple[str, ...], int]:
    """The causes and the seed of a machine: they depend on the order's seed and the machine's number alone."""
    rng = random.Random(f"{order.seed} {number}")
    causes = draw_causes(bench.model, rng, two_faults=order.two_faults, cause=order.cause, unlisted=order.unlisted)
    return causes, rng.getrandbits(63)


# -- in the workers -----------------------------------------------------------------------------------------------------

_here: list[tuple[Bench, Order]] = []
"""The one of this worker."""


def _prepare(knowledge: Knowledge, checklist: tuple[Entry, ...], order: Order) -> None:
    _here.append((Bench(knowledge, checklist), order))


def _played(machines: range) -> list[Play]:
    bench, order = _here[0]
    return played(bench, order, machines)
