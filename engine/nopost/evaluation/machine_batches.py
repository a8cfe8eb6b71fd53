"""Simulated machines shared out over the cores: each worker prepares once, then takes a few machines at a time.

The rows are the same, and in the same order, whatever the number of workers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any, TypeVar

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
