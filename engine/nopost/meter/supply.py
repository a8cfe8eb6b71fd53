"""All readings judged by all guides, what was not measured, and what they say of the power supply.

The roles in it: standby, the signal that asks the supply to run, the signal by which it answers, the main rails, the coin cell.
What each role shows is decided once, for answers and for sentences alike.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from nopost.errors import NopostError, UnknownNameError
from nopost.knowledge.meter_limits import CoinCell, Limits, Rail, Signal
from nopost.meter.limit_check import Grade, Ruling, band_of, doubt, judge_reading
from nopost.meter.reading import MAIN_PLUG, MeasurandKind, MeterReading, PowerState, is_missing, signal_level, with_states

BOTH = ("both", "all")


@dataclass(frozen=True, slots=True)
class JudgedReading:
    """A reading, why it is doubted ("" when it is not), and what each guide makes of it, in the guides' order."""

    reading: MeterReading
    doubt: str
    rulings: tuple[Ruling, ...]

    @property
    def bad(self) -> bool:
        """Whether every guide that has a limit finds it bad."""
        return bool(self.rulings) and all(ruling.bad for ruling in self.rulings)

    @property
    def disputed(self) -> bool:
        """Whether one guide finds it bad and another does not."""
        return not self.bad and any(ruling.bad for ruling in self.rulings)


@dataclass(frozen=True, slots=True)
class MeasurementReport:
    """What the readings come to.

    `state`: of readings that did not say theirs; `state_inferred`: it was taken from the readings. `alone`: the supply was
    tested off the board. `board_rails`: names of the main rails of the wide plug.
    """

    judged: tuple[JudgedReading, ...]
    guides: tuple[Limits, ...]
    cell: CoinCell | None
    state: PowerState
    state_inferred: bool
    alone: bool
    board_rails: tuple[str, ...] = ()

    @property
    def trusted(self) -> tuple[JudgedReading, ...]:
        """Those that are not doubted."""
        return tuple(judged for judged in self.judged if not judged.doubt)

    @property
    def doubted(self) -> tuple[JudgedReading, ...]:
        """Those to be checked first."""
        return tuple(judged for judged in self.judged if judged.doubt)

    def of(self, name: str, *states: PowerState) -> tuple[JudgedReading, ...]:
        """The readings of this name that are not doubted, taken in one of these states (any when none is named)."""
        return tuple(j for j in self.trusted if j.reading.name == name and (not states or j.reading.power_state in states))


def guides_of(limits: Mapping[str, Limits], guide: str = "both") -> tuple[Limits, ...]:
    """The guide of this name, or all. Raises UnknownNameError, or NopostError when the knowledge base has no guide."""
    guides = {name: each for name, each in limits.items() if each.is_guide}
    if not guides:
        raise NopostError("this knowledge base has no limits for voltages: it has no file with rails in limits/")
    if guide in BOTH:
        return tuple(guides[name] for name in sorted(guides))
    if guide not in guides:
        raise UnknownNameError("guide", guide, (*guides, "both"))
    return (guides[guide],)


def cell_of(limits: Mapping[str, Limits]) -> CoinCell | None:
    """The coin cell that has bands, if any."""
    return next((each.cell for each in limits.values() if each.cell), None)


def make_report(
    readings: Sequence[MeterReading],
    limits: Mapping[str, Limits],
    guide: str = "both",
    state: PowerState = PowerState.NOT_SAID,
    alone: bool = False,
) -> MeasurementReport:
    """Judge all readings. `state` holds for those that do not say theirs; `alone`: the supply is tested by itself."""
    guides, cell = guides_of(limits, guide), cell_of(limits)
    doubts = [doubt(reading, guides, cell) for reading in readings]
    told, taken = with_states(readings, [not why for why in doubts], state, guides)
    judged = tuple(_judged(reading, why, guides) for reading, why in zip(told, doubts, strict=True))
    return MeasurementReport(judged, guides, cell, taken, taken is not state, alone, _board_rails(limits, guides))


def _board_rails(limits: Mapping[str, Limits], guides: Sequence[Limits]) -> tuple[str, ...]:
    """Positive rails that are off in standby; those on the wide plug when the limits say what is on it."""
    on_plug = {pin.carries for each in limits.values() for pin in each.pins if pin.plug == MAIN_PLUG}
    rails = [rail.name for guide in guides for rail in guide.rails if not rail.standby and rail.nominal > 0]
    return tuple(dict.fromkeys(name for name in rails if not on_plug or name in on_plug))


def _judged(reading: MeterReading, why: str, guides: Sequence[Limits]) -> JudgedReading:
    rulings = () if reading.measurand.kind is MeasurandKind.CELL else tuple(judge_reading(reading, guide) for guide in guides)
    return JudgedReading(reading, why, rulings)


def standby_rails(report: MeasurementReport) -> set[str]:
    """Names of the rails that are there whenever mains is."""
    return {rail.name for guide in report.guides for rail in guide.rails if rail.standby}


def start_signal(report: MeasurementReport) -> Signal | None:
    """The signal by which the board asks the supply: low while it runs."""
    return _signal_running_at(report, "low")


def power_good_signal(report: MeasurementReport) -> Signal | None:
    """The signal by which the supply says that all is well: high while it runs."""
    return _signal_running_at(report, "high")


def standby_level(report: MeasurementReport) -> str:
    """`none`, `low`, `high`, `in-range`, or "" when it was not measured with mains on or the guides differ."""
    return "" if standby_is_odd(report) else _worst_standby(report)


def standby_is_odd(report: MeasurementReport) -> bool:
    """Whether standby reads as missing while main rails are there, which cannot be."""
    return _worst_standby(report) == "none" and bool({"in-range", "low", "high"} & set(main_rail_levels(report).values()))


def main_rail_levels(report: MeasurementReport) -> dict[str, str]:
    """Main rail -> `none`, `low`, `high`, `in-range` or `disputed`, of those measured while it runs."""
    names = dict.fromkeys(
        rail.name for guide in report.guides for rail in guide.rails if not rail.standby and not rail.nominal < 0
    )
    measured = {name: report.of(name, PowerState.RUNNING) for name in names}
    return {name: _worst_level(told) or "disputed" for name, told in measured.items() if told}


def dead_after_press(report: MeasurementReport) -> bool:
    """Whether main rails were measured while they should be there, and all are gone."""
    told = [j.reading for name in report.board_rails for j in report.of(name, PowerState.RUNNING, PowerState.PRESSED)]
    return bool(told) and all(is_missing(rail, reading.value) for reading in told for rail in _rails_of(report, reading))


def signal_levels(report: MeasurementReport, signal: Signal | None, *states: PowerState) -> list[str]:
    """The levels at which a signal was seen in these states, in order."""
    return [signal_level(signal, j.reading.value) for j in report.of(signal.name, *states)] if signal else []


def cell_answer(report: MeasurementReport) -> tuple[str, str]:
    """Answer and words for the lowest reading of the coin cell; empty when there is none."""
    told = [j.reading.value for j in report.trusted if j.reading.measurand.kind is MeasurandKind.CELL]
    return band_of(report.cell, min(told)) if told and report.cell else ("", "")


def _worst_standby(report: MeasurementReport) -> str:
    return _worst_level(
        j for name in standby_rails(report) for j in report.of(name) if j.reading.power_state is not PowerState.OFF
    )


def _signal_running_at(report: MeasurementReport, running: str) -> Signal | None:
    return next((s for guide in report.guides for s in guide.signals if s.running == running), None)


def _worst_level(told: Iterable[JudgedReading]) -> str:
    """The worst that was seen; "" when there is nothing, or the guides differ."""
    found = {_level_of(judged) for judged in told}
    return next((sort for sort in ("none", "disputed", "low", "high", "in-range") if sort in found), "").replace("disputed", "")


def _level_of(judged: JudgedReading) -> str:
    grades = {ruling.grade for ruling in judged.rulings}
    if judged.disputed:
        return "disputed"
    names = {Grade.MISSING: "none", Grade.TOO_LITTLE: "low", Grade.TOO_MUCH: "high"}
    return next((word for grade, word in names.items() if grade in grades), "in-range" if Grade.WITHIN in grades else "unsettled")


def _rails_of(report: MeasurementReport, reading: MeterReading) -> list[Rail]:
    return [rail for guide in report.guides for rail in guide.rails if rail.name == reading.name]


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
    signal, power_good = start_signal(report), power_good_signal(report)
    dead = dead_after_press(report)
    pressed = signal_levels(report, signal, PowerState.PRESSED)
    running = signal_levels(report, signal, PowerState.RUNNING)
    return SupplyState(
        standby=standby_level(report),
        standby_odd=standby_is_odd(report),
        main_rails=main_rail_levels(report),
        dead=dead,
        start_signal=signal,
        idle=tuple(signal_levels(report, signal, PowerState.STANDBY)),
        asked=(*pressed, *running),
        start=_start_signal_course([*pressed, *running] if dead else pressed),
        power_good_signal=power_good,
        power_good=tuple(signal_levels(report, power_good, PowerState.RUNNING)),
    )


def _start_signal_course(levels: Sequence[str]) -> StartSignalCourse:
    if "low" in levels:
        return StartSignalCourse.LET_GO if levels[-1] == "high" else StartSignalCourse.PULLED_LOW
    return StartSignalCourse.NOT_PULLED if levels and set(levels) == {"high"} else StartSignalCourse.NOT_SEEN
