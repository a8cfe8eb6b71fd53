"""One reading of a meter, and the state of the machine it was taken in."""

from __future__ import annotations

import enum
from dataclasses import dataclass


class State(enum.StrEnum):
    """How the machine was when it was measured. `NOT_SAID`: nobody told."""

    NOT_SAID = ""
    OFF = "off"
    STANDBY = "standby"
    PRESSED = "pressed"
    RUNNING = "running"


STATE_WORDS = {
    State.NOT_SAID: "not said",
    State.OFF: "off, mains lead out",
    State.STANDBY: "mains on, machine off",
    State.PRESSED: "button just pressed",
    State.RUNNING: "running",
}


class Kind(enum.StrEnum):
    """What was measured."""

    RAIL = "rail"
    SIGNAL = "signal"
    TIME = "time"
    CELL = "cell"
    GROUND = "ground"
    NOTHING = "none"


@dataclass(frozen=True, slots=True)
class Target:
    """Something that can be measured: its kind and the name that the limits give it."""

    kind: Kind
    name: str


@dataclass(frozen=True, slots=True)
class Reading:
    """A value in volts (milliseconds for a time); `ripple` peak to peak in mV; `wrote`: as written; `at`: file:line."""

    target: Target
    value: float
    state: State = State.NOT_SAID
    ripple: float | None = None
    wrote: str = ""
    at: str = ""

    @property
    def name(self) -> str:
        """Name of what was measured."""
        return self.target.name
