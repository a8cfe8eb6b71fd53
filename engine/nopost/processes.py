"""Work shared out over processes that are started afresh: as many as there are cores, deaf to Ctrl-C, ended with their parent."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import connection, get_context, parent_process
from typing import Any, TypeVar

from nopost.errors import NopostError

Job = TypeVar("Job")
Rows = TypeVar("Rows")

MOST = 61
"""More processes than this cannot be waited for everywhere."""


def cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def shared_out(
    prepare: Callable[..., None],
    given: tuple[Any, ...],
    work: Callable[[Job], Rows],
    jobs: Sequence[Job],
    workers: int | None = None,
) -> Iterator[Rows]:
    """What `work` makes of each job, in order. Each worker calls `prepare(*given)` first; both must be importable.

    `workers`: processes, None for as many as there are cores. Raises NopostError when a worker ends by itself.
    """
    executor = started(min(workers or cores(), len(jobs)), prepare, given)
    try:
        with no_interrupt_inherited():
            results = executor.map(work, jobs)
        yield from results
    except BrokenExecutor:
        raise NopostError("a worker process ended by itself; there may be too little memory: try --workers 1") from None
    finally:
        executor.shutdown(wait=True, cancel_futures=True)


def started(count: int, prepare: Callable[..., None], given: tuple[Any, ...]) -> ProcessPoolExecutor:
    """That many workers; each calls `prepare(*given)` before its first job."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # the workers are the threads
    count = max(1, min(count, MOST))
    return ProcessPoolExecutor(count, mp_context=get_context("spawn"), initializer=_first, initargs=(prepare, given))


@contextmanager
def no_interrupt_inherited() -> Iterator[None]:
    """Ctrl-C goes to every process of a terminal; those started in here do not hear it, this one hears it afterwards."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _first(prepare: Callable[..., None], given: tuple[Any, ...]) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent
    threading.Thread(target=_end_with_parent, daemon=True).start()
    prepare(*given)


def _end_with_parent() -> None:
    """A worker whose parent was killed would wait for ever."""
    parent = parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os.kill(os.getpid(), signal.SIGTERM)
