"""One reading of a meter, and the power state of the machine in which it was taken.

When nobody said the state, it is taken from the readings themselves.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from nopost.knowledge.meter_limits import Limits, Rail, Signal


class PowerState(enum.StrEnum):
    """How the machine was when it was measured. `NOT_SAID`: nobody told."""

    NOT_SAID = ""
    OFF = "off"
    STANDBY = "standby"
    PRESSED = "pressed"
    RUNNING = "running"


POWER_STATE_WORDS = {
    PowerState.NOT_SAID: "not said",
    PowerState.OFF: "off, mains lead out",
    PowerState.STANDBY: "mains on, machine off",
    PowerState.PRESSED: "button just pressed",
    PowerState.RUNNING: "running",
}


class MeasurandKind(enum.StrEnum):
    """What was measured."""

    RAIL = "rail"
    SIGNAL = "signal"
    TIME = "time"
    CELL = "cell"
    GROUND = "ground"
    NOTHING = "none"


@dataclass(frozen=True, slots=True)
class Measurand:
    """Something that can be measured: its kind and the name that the limits give it."""

    kind: MeasurandKind
    name: str


@dataclass(frozen=True, slots=True)
class MeterReading:
    """A value in volts (milliseconds for a time); `ripple` peak to peak in mV; `wrote`: as written; `at`: file:line."""

    measurand: Measurand
    value: float
    power_state: PowerState = PowerState.NOT_SAID
    ripple: float | None = None
    wrote: str = ""
    at: str = ""

    @property
    def name(self) -> str:
        """Name of what was measured."""
        return self.measurand.name


MISSING_BELOW = 0.5
"""Volts under which a rail counts as missing; of a high rail a tenth of it."""


PULLED_UP = 0.25
"""Volts above a high level that are still high: a signal hangs on a 5 V line, which may stand at 5.25 V (judgement)."""


def with_states(
    readings: Sequence[MeterReading], believed: Sequence[bool], state: PowerState, guides: Sequence[Limits]
) -> tuple[list[MeterReading], PowerState]:
    """The readings, those without a state given `state` or what the believed ones among them show; and that state."""
    free = [reading for reading, good in zip(readings, believed, strict=True) if good and not reading.power_state]
    taken = state or _shown_state(free, guides)
    return [reading if reading.power_state else replace(reading, power_state=taken) for reading in readings], taken


def is_missing(rail: Rail, volts: float) -> bool:
    """Whether the rail counts as missing."""
    return abs(volts) < max(MISSING_BELOW, abs(rail.nominal) / 10)


def signal_level(signal: Signal, volts: float) -> str:
    """`low`, `high`, `between` or `beyond` of a signal's levels. A little below ground is still low."""
    if -MISSING_BELOW <= volts <= signal.low[1]:
        return "low"
    if signal.high[0] <= volts <= signal.high[1] + PULLED_UP:
        return "high"
    return "between" if signal.low[1] < volts < signal.high[0] else "beyond"


def _shown_state(readings: Iterable[MeterReading], guides: Sequence[Limits]) -> PowerState:
    """The first guide's limits are enough to tell on from off."""
    told = list(readings)
    for guide in guides[:1]:
        main = {rail.name: rail for rail in guide.rails if not rail.standby and rail.nominal > 0}
        if any(r.name in main and r.value > main[r.name].nominal / 2 for r in told if r.measurand.kind is MeasurandKind.RAIL):
            return PowerState.RUNNING
        for signal in guide.signals:
            levels = {signal_level(signal, r.value) for r in told if r.name == signal.name}
            if signal.idle != signal.running and len(levels) == 1:
                found = levels.pop()
                if found == "high":
                    return PowerState.RUNNING if signal.running == "high" else PowerState.STANDBY
    return PowerState.NOT_SAID
