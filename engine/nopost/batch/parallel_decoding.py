"""Many logs decoded and ranked: on all cores, in their order, with few of them in memory at any time."""

from __future__ import annotations

import gc
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from itertools import chain, islice

from nopost.batch.log_row import LogDecoder, LogRow, escape_lone_surrogates
from nopost.batch.log_sources import Log
from nopost.errors import NopostError
from nopost.knowledge.model import Knowledge
from nopost.processes import MOST, cores, no_interrupt_inherited, started

Chunk = list[Log]

CHUNK_LOGS = 64
CHUNK_BYTES = 512 * 1024
"""A chunk goes to a worker at once; it ends at either."""
FEWEST_CHUNKS_FOR_WORKERS = 4
"""With fewer chunks than this it is quicker not to start workers at all."""
CHUNKS_AHEAD = 2
"""Chunks that are read ahead for each worker."""
MAX_DEATHS = 5
"""So many workers die on single logs one after another, then it is not the logs."""


def decode_logs(logs: Iterable[Log | tuple[str, str | bytes]], kb: Knowledge, workers: int | None = None) -> Iterator[LogRow]:
    """The rows of the logs, in order, as they are ready. `workers`: processes; None for as many as there are cores.

    Only a window of the logs is held in memory. A log that cannot be read becomes a row with a problem, even one that ends its
    worker. Workers are started afresh (spawn), so a program that calls this needs the usual guard of its main module.
    """
    count = min(workers or cores(), MOST)
    chunks = _chunks(Log(*entry) for entry in logs)
    first = list(islice(chunks, FEWEST_CHUNKS_FOR_WORKERS)) if count > 1 else []
    if count == 1 or len(first) < FEWEST_CHUNKS_FOR_WORKERS:
        decoder = LogDecoder(kb)
        for chunk in chain(first, chunks):
            yield from map(decoder.row, chunk)
    else:
        yield from _WorkerPool(kb, count).rows(chain(first, chunks))


def _chunks(logs: Iterable[Log]) -> Iterator[Chunk]:
    chunk: Chunk = []
    size = 0
    for log in logs:
        chunk.append(log)
        size += len(log.content)
        if len(chunk) >= CHUNK_LOGS or size >= CHUNK_BYTES:
            yield chunk
            chunk, size = [], 0
    if chunk:
        yield chunk


class _WorkerPool:
    """Worker processes, started again when one dies."""

    def __init__(self, kb: Knowledge, count: int) -> None:
        self._kb, self._count = kb, count
        self._executor = self._started()
        self._deaths = 0

    def rows(self, chunks: Iterable[Chunk]) -> Iterator[LogRow]:
        """The rows in order; at most `CHUNKS_AHEAD` chunks for each worker are under way or waiting."""
        under_way: deque[tuple[Future[list[LogRow]], Chunk]] = deque()
        try:
            for chunk in chunks:
                under_way.append((self._submit(chunk), chunk))
                if len(under_way) > CHUNKS_AHEAD * self._count:
                    yield from self._result(*under_way.popleft())
            while under_way:
                yield from self._result(*under_way.popleft())
        finally:
            self._executor.shutdown(wait=True, cancel_futures=True)

    def _result(self, future: Future[list[LogRow]], chunk: Chunk) -> list[LogRow]:
        try:
            return future.result()
        except BrokenExecutor:
            return self._again(chunk)

    def _again(self, chunk: Chunk) -> list[LogRow]:
        """A worker died, of this chunk or of another one: try it by itself, then log by log."""
        try:
            return self._submit(chunk).result()
        except BrokenExecutor:
            return [self._alone(log) for log in chunk]

    def _alone(self, log: Log) -> LogRow:
        try:
            rows = self._submit([log]).result()
            self._deaths = 0
            return rows[0]
        except BrokenExecutor:
            self._deaths += 1
            if self._deaths >= MAX_DEATHS:
                raise NopostError("the worker processes end by themselves; try --workers 1") from None
            return LogRow(
                escape_lone_surrogates(log.name),
                problem="the process that read it ended by itself; there may be too little memory",
            )

    def _submit(self, chunk: Chunk) -> Future[list[LogRow]]:
        with no_interrupt_inherited():
            try:
                return self._executor.submit(_rows, chunk)
            except BrokenExecutor:
                self._executor.shutdown(wait=True, cancel_futures=True)
                self._executor = self._started()
                return self._executor.submit(_rows, chunk)

    def _started(self) -> ProcessPoolExecutor:
        return started(self._count, _prepare_worker, (self._kb,))


# -- in the workers -----------------------------------------------------------------------------------------------------

_decoders: list[LogDecoder] = []
"""The one of this worker."""


def _prepare_worker(kb: Knowledge) -> None:
    _decoders.append(LogDecoder(kb))
    gc.collect()
    gc.freeze()  # the knowledge stays; no need to look through it again and again


def _rows(chunk: Chunk) -> list[LogRow]:
    return [_decoders[0].row(log) for log in chunk]
