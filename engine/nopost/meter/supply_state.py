"""How the supply stands by its readings: each thing decided once, for the answers and for the sentences alike."""

from __future__ import annotations

import enum
from collections.abc import Sequence
from dataclasses import dataclass

from nopost.knowledge.meter_limits import Signal
from nopost.meter import supply
from nopost.meter.reading import PowerState
from nopost.meter.supply import MeasurementReport


class StartSignalCourse(enum.StrEnum):
    """What the signal by which the board asks the supply to run did when the button was pressed."""

    NOT_SEEN = ""
    PULLED_LOW = "pulled-low"
    LET_GO = "let-go"
    """Low, then high again."""
    NOT_PULLED = "not-pulled"


@dataclass(frozen=True, slots=True)
class SupplyState:
    """What the readings say of each role in the supply; levels are those of `nopost.meter.supply`, empty when not measured.

    `standby`, `standby_odd`: level of the standby rail, and whether it reads as missing although main rails are there.
    `main_rails`: level of each main rail while it runs. `dead`: all main rails are gone although they should be there.
    `start_signal`: the signal that asks the supply; its levels are `idle` in standby and `asked` from the press on.
    `start`: what it did then, by the readings that count: those at the press, and those of a machine that should run but is
    dead. `power_good`: levels of the answering signal while it runs.
    """

    standby: str
    standby_odd: bool
    main_rails: dict[str, str]
    dead: bool
    start_signal: Signal | None
    idle: tuple[str, ...]
    asked: tuple[str, ...]
    start: StartSignalCourse
    power_good_signal: Signal | None
    power_good: tuple[str, ...]

    @property
    def bad_rail(self) -> bool:
        """Whether a main rail is missing, too low or too high."""
        return not {"none", "low", "high"}.isdisjoint(self.main_rails.values())


def supply_state(report: MeasurementReport) -> SupplyState:
    """What the readings that are not doubted say of the supply."""
    signal, power_good = supply.start_signal(report), supply.power_good_signal(report)
    dead = supply.dead_after_press(report)
    pressed = supply.signal_levels(report, signal, PowerState.PRESSED)
    running = supply.signal_levels(report, signal, PowerState.RUNNING)
    return SupplyState(
        standby=supply.standby_level(report),
        standby_odd=supply.standby_is_odd(report),
        main_rails=supply.main_rail_levels(report),
        dead=dead,
        start_signal=signal,
        idle=tuple(supply.signal_levels(report, signal, PowerState.STANDBY)),
        asked=(*pressed, *running),
        start=_start_signal_course([*pressed, *running] if dead else pressed),
        power_good_signal=power_good,
        power_good=tuple(supply.signal_levels(report, power_good, PowerState.RUNNING)),
    )


def _start_signal_course(levels: Sequence[str]) -> StartSignalCourse:
    if "low" in levels:
        return StartSignalCourse.LET_GO if levels[-1] == "high" else StartSignalCourse.PULLED_LOW
    return StartSignalCourse.NOT_PULLED if levels and set(levels) == {"high"} else StartSignalCourse.NOT_SEEN
