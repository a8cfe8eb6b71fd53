"""Times of repeated work: the median and how far the repeats lie apart.

Work in this process is timed by the processor time it takes, so that what else runs on the machine counts little; work in
several processes, or a start from nothing, by the clock on the wall.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Timing:
    """Seconds of each repeat."""

    seconds: tuple[float, ...]

    @property
    def ms(self) -> float:
        """Median, in milliseconds."""
        return 1e3 * statistics.median(self.seconds)

    @property
    def spread(self) -> str:
        """Least and most, in milliseconds."""
        return f"{1e3 * min(self.seconds):.3g}–{1e3 * max(self.seconds):.3g}"

    def over(self, other: Timing) -> float:
        """This median over another one."""
        return self.ms / other.ms


Clock = Callable[[], float]


def timed(work: Callable[[], object], repeats: int, most: float = 20.0) -> Timing:
    """Time it again and again, the first time not counted; once only when it is longer than `most` seconds."""
    first = once(work)
    return Timing((first,)) if first > most / 2 else Timing(tuple(once(work) for _ in range(repeats)))


def once(work: Callable[[], object], clock: Clock = time.process_time) -> float:
    """Seconds of one go."""
    begun = clock()
    work()
    return clock() - begun


def in_turn(works: Sequence[Callable[[], object]], repeats: int, clock: Clock = time.process_time) -> list[Timing]:
    """Several things timed in turn, round after round, so that a busy moment of the machine falls on all of them."""
    rounds = [[once(work, clock) for work in works] for _ in range(repeats + 1)][1:]
    return [Timing(column) for column in zip(*rounds, strict=True)]
