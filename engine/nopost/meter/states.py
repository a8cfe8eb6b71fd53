"""In what state the machine was, when nobody said it: taken from the readings themselves."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from nopost.knowledge.model import Limits, Rail, Signal
from nopost.meter.reading import Kind, Reading, State

GONE = 0.5
"""Volts under which a rail counts as missing; of a high rail a tenth of it."""


PULLED_UP = 0.25
"""Volts above a high level that are still high: a signal hangs on a 5 V line, which may stand at 5.25 V (judgement)."""


def with_states(
    readings: Sequence[Reading], believed: Sequence[bool], state: State, guides: Sequence[Limits]
) -> tuple[list[Reading], State]:
    """The readings, those without a state given `state` or what the believed ones among them show; and that state."""
    free = [reading for reading, good in zip(readings, believed, strict=True) if good and not reading.state]
    taken = state or _shown(free, guides)
    return [reading if reading.state else replace(reading, state=taken) for reading in readings], taken


def is_gone(rail: Rail, volts: float) -> bool:
    """Whether the rail counts as missing."""
    return abs(volts) < max(GONE, abs(rail.nominal) / 10)


def level(signal: Signal, volts: float) -> str:
    """`low`, `high`, `between` or `beyond` of a signal's levels. A little below ground is still low."""
    if -GONE <= volts <= signal.low[1]:
        return "low"
    if signal.high[0] <= volts <= signal.high[1] + PULLED_UP:
        return "high"
    return "between" if signal.low[1] < volts < signal.high[0] else "beyond"


def _shown(readings: Iterable[Reading], guides: Sequence[Limits]) -> State:
    """The first guide's limits are enough to tell on from off."""
    told = list(readings)
    for guide in guides[:1]:
        main = {rail.name: rail for rail in guide.rails if not rail.standby and rail.nominal > 0}
        if any(r.name in main and r.value > main[r.name].nominal / 2 for r in told if r.target.kind is Kind.RAIL):
            return State.RUNNING
        for signal in guide.signals:
            levels = {level(signal, r.value) for r in told if r.name == signal.name}
            if signal.idle != signal.running and len(levels) == 1:
                found = levels.pop()
                if found == "high":
                    return State.RUNNING if signal.running == "high" else State.STANDBY
    return State.NOT_SAID
