"""One reading of a meter, and the power state of the machine in which it was taken.

When nobody said the state, it is taken from the readings themselves.

The names that people write for rails, signals, contacts and wires are one pattern made from the limits.
"""

from __future__ import annotations

import enum
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

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


MAIN_PLUG = "main-24"
"""The plug that is meant when only a number of a contact is written."""
_RUN = re.compile(r"[+]|-(?=\d)|\d+(?:\.\d+)?|[A-Za-z]+|#|[\s_-]+")
_SIGNS = {"+": r"\+?\s*", "-": r"[-\u2212\u2013]\s*", "#": r"\s*#?"}
_GREY = {"gray": "grey"}


@dataclass(frozen=True)
class MeasurandNames:
    """What can be measured by these limits, and how it is written."""

    limits: tuple[Limits, ...]

    @cached_property
    def spellings(self) -> Mapping[str, Measurand]:
        """Name or other name -> what it stands for; the first file that has a name wins."""
        found: dict[str, Measurand] = {}
        for spelling, measurand in _spellings(self.limits):
            found.setdefault(spelling, measurand)
        return found

    @cached_property
    def contacts(self) -> Mapping[tuple[str, int], Measurand]:
        """(plug, contact) -> what it carries."""
        return {(pin.plug, pin.pin): self._carried(pin.carries) for limits in self.limits for pin in limits.pins}

    @cached_property
    def wires(self) -> Mapping[str, Measurand]:
        """Colour of a wire -> what it carries on the plug that is named first."""
        found: dict[str, Measurand] = {}
        for limits in self.limits:
            for pin in limits.pins:
                if pin.wire:
                    found.setdefault(pin.wire, self._carried(pin.carries))
        return found

    @cached_property
    def pattern(self) -> str:
        """A regular expression for a name; group `name` is what was written."""
        written = sorted(self.spellings, key=lambda text: (-len(text), text))
        contact = [r"(?:[a-z]+[- ]?\d+\s+)?(?:pin|contact)\s*\#?\s*\d{1,3}"] if self.contacts else []
        colours = "|".join([*self.wires, *_GREY]) if self.wires else ""
        wire = [rf"(?:{colours})(?:\s+wire)?"] if colours else []
        return rf"(?P<name>{'|'.join([*contact, *map(_spelling_pattern, written), *wire])})(?![A-Za-z0-9])"

    def find(self, written: str) -> Measurand | None:
        """What a written name stands for; None when it is no name."""
        text = " ".join(written.split())
        contact = re.fullmatch(r"(?:([a-z]+)[- ]?(\d+)\s+)?(?:pin|contact)\s*#?\s*(\d{1,3})", text, re.IGNORECASE)
        if contact:
            plug = f"{contact[1].lower()}-{contact[2]}" if contact[1] else MAIN_PLUG
            return self.contacts.get((plug, int(contact[3])))
        colour = re.sub(r"\s+wire$", "", text.casefold())
        if _GREY.get(colour, colour) in self.wires:
            return self.wires[_GREY.get(colour, colour)]
        return next((measurand for _, pattern, measurand in self._patterns if pattern.fullmatch(text)), None)

    def known(self) -> list[str]:
        """The names themselves, for a hint."""
        return list(dict.fromkeys(measurand.name for measurand in self.spellings.values()))

    @cached_property
    def _patterns(self) -> list[tuple[str, re.Pattern[str], Measurand]]:
        return [
            (text, re.compile(_spelling_pattern(text), re.IGNORECASE), measurand) for text, measurand in self.spellings.items()
        ]

    def _carried(self, name: str) -> Measurand:
        if name in ("ground", "none"):
            return Measurand(MeasurandKind(name), name)
        return self.spellings[name]


def names_of(limits: Iterable[Limits]) -> MeasurandNames:
    """The names that these limits give."""
    return MeasurandNames(tuple(limits))


def _spellings(limits: Iterable[Limits]) -> Iterator[tuple[str, Measurand]]:
    for each in limits:
        for kind, entries in (
            (MeasurandKind.RAIL, each.rails),
            (MeasurandKind.SIGNAL, each.signals),
            (MeasurandKind.TIME, each.times),
        ):
            for entry in entries:
                yield from ((text, Measurand(kind, entry.name)) for text in (entry.name, *entry.also))
        if each.cell:
            yield from ((text, Measurand(MeasurandKind.CELL, each.cell.name)) for text in (each.cell.name, *each.cell.also))


def _spelling_pattern(name: str) -> str:
    """A pattern for a name in its usual writings: blanks before a unit, comma for a point, any joint between words."""
    parts: list[str] = []
    for run in _RUN.findall(name):
        if run in _SIGNS:
            parts.append(_SIGNS[run])
        elif run[0].isdigit():
            parts.append(re.escape(run).replace(r"\.", "[.,]"))
        elif run[0].isalpha():
            parts.append((r"\s*" if parts and parts[-1][0].isdigit() else "") + re.escape(run))
        else:
            parts.append(r"[\s_-]*")
    return "".join(parts)
