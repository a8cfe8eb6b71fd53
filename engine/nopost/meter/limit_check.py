"""One reading against one guide: inside or outside which limit, and by how much."""

from __future__ import annotations

import enum
from dataclasses import dataclass

from nopost.knowledge.meter_limits import CoinCell, Limits, Rail, Signal, Time
from nopost.meter.reading import MeasurandKind, MeterReading, PowerState, is_missing, signal_level

LEVEL_WORDS = {"low": "low", "high": "high", "between": "between low and high", "beyond": "beyond both levels"}


class Grade(enum.StrEnum):
    """How a reading stands to its limits."""

    WITHIN = "within"
    TOO_LITTLE = "too-little"
    TOO_MUCH = "too-much"
    MISSING = "missing"
    RIGHTLY_OFF = "rightly-off"
    NOT_OFF = "not-off"
    WRONG_LEVEL = "wrong-level"
    UNSETTLED = "unsettled"
    NO_LIMIT = "no-limit"


BAD_GRADES = frozenset({Grade.TOO_LITTLE, Grade.TOO_MUCH, Grade.MISSING, Grade.NOT_OFF, Grade.WRONG_LEVEL})


@dataclass(frozen=True, slots=True)
class Ruling:
    """What one guide makes of one reading. `by`: volts or ms outside; `note`: what else the guide says of it."""

    guide: str
    grade: Grade
    text: str
    by: float = 0.0
    note: str = ""
    ripple: str = ""

    @property
    def bad(self) -> bool:
        """Whether it is outside, missing or wrong."""
        return self.grade in BAD_GRADES


def judge_reading(reading: MeterReading, guide: Limits) -> Ruling:
    """What this guide makes of the reading, in the state it was taken in."""
    rail = next((rail for rail in guide.rails if rail.name == reading.name), None)
    signal = next((signal for signal in guide.signals if signal.name == reading.name), None)
    time = next((time for time in guide.times if time.name == reading.name), None)
    if rail is not None:
        return _rail(reading, rail, guide.id)
    if signal is not None:
        return _signal(reading, signal, guide.id)
    if time is not None:
        return _time(reading, time, guide.id)
    if reading.measurand.kind in (MeasurandKind.GROUND, MeasurandKind.NOTHING):
        return Ruling(guide.id, Grade.WITHIN, "no voltage, as it should be")
    return Ruling(guide.id, Grade.NO_LIMIT, "no limit stated")


def band_of(cell: CoinCell, volts: float) -> tuple[str, str]:
    """The answer and its words for a coin cell."""
    band = next((band for band in cell.bands if volts >= band.low), cell.bands[-1])
    return band.answer, band.text


def plain_number(value: float) -> str:
    """A number as a meter shows it, never in powers of ten."""
    return f"{value:.3f}".rstrip("0").rstrip(".") if round(value, 3) else "0"


def _rail(reading: MeterReading, rail: Rail, guide: str) -> Ruling:
    ripple = _ripple(reading, rail)
    gone = is_missing(rail, reading.value)
    expected = _expected(rail, reading.power_state)
    if gone and expected is not True:
        grade, text = (Grade.UNSETTLED, "not there") if expected is None else (Grade.RIGHTLY_OFF, "not there, as it should be")
        return Ruling(guide, grade, text, ripple=ripple)
    if gone:
        note = "this guide lets a supply be without it" if rail.optional else ""
        return Ruling(guide, Grade.UNSETTLED if rail.optional else Grade.MISSING, "missing", abs(rail.nominal), note, ripple)
    if expected is False:
        return Ruling(guide, Grade.NOT_OFF, "there, but should be off", abs(reading.value), ripple=ripple)
    return _within(reading, rail, guide, ripple)


def _within(reading: MeterReading, rail: Rail, guide: str, ripple: str) -> Ruling:
    near, far = sorted((rail.low, rail.high), key=abs)
    bounds = f"{plain_number(near)} to {plain_number(far)}"
    size = abs(reading.value)
    if size < abs(near):
        by = abs(near) - size
        return Ruling(guide, Grade.TOO_LITTLE, f"{plain_number(by)} V under {plain_number(near)}", by, rail.note, ripple)
    if size > abs(far):
        by = size - abs(far)
        return Ruling(guide, Grade.TOO_MUCH, f"{plain_number(by)} V over {plain_number(far)}", by, rail.note, ripple)
    return Ruling(guide, Grade.WITHIN, f"inside {bounds}", ripple=ripple)


def _expected(rail: Rail, state: PowerState) -> bool | None:
    """Whether the rail is there in this state; None when that cannot be said."""
    if state is PowerState.OFF:
        return False
    if rail.standby or state is PowerState.RUNNING:
        return True
    return False if state is PowerState.STANDBY else None


def _ripple(reading: MeterReading, rail: Rail) -> str:
    if reading.ripple is None or not rail.ripple:
        return ""
    side = "over" if reading.ripple > rail.ripple else "inside"
    return f"ripple {plain_number(reading.ripple)} mV, {side} {plain_number(rail.ripple)} mV"


def _signal(reading: MeterReading, signal: Signal, guide: str) -> Ruling:
    found = signal_level(signal, reading.value)
    words = LEVEL_WORDS[found]
    if reading.power_state is PowerState.OFF:
        grade = Grade.RIGHTLY_OFF if found == "low" else Grade.NOT_OFF
        return Ruling(guide, grade, f"{words}, {'as it should be' if found == 'low' else 'but should be off'}")
    wanted = {PowerState.STANDBY: signal.idle, PowerState.RUNNING: signal.running}.get(reading.power_state, "")
    if reading.power_state is PowerState.PRESSED and signal.running == "low":
        wanted = "low"  # what asks the supply is there at once; what answers may take its time
    if found in ("between", "beyond"):
        bounds = f"low to {plain_number(signal.low[1])}, high {plain_number(signal.high[0])} to {plain_number(signal.high[1])}"
        return Ruling(guide, Grade.WRONG_LEVEL, f"{words} ({bounds})", _off_level(signal, reading.value))
    if not wanted:
        return Ruling(guide, Grade.UNSETTLED, words)
    if found == wanted:
        return Ruling(guide, Grade.WITHIN, f"{words}, as it should be")
    by = abs(reading.value - (signal.high[0] if wanted == "high" else signal.low[1]))
    return Ruling(guide, Grade.WRONG_LEVEL, f"{words}, but should be {wanted}", by)


def _off_level(signal: Signal, volts: float) -> float:
    """Volts to the nearest level."""
    return min(abs(volts - bound) for bound in (*signal.low, *signal.high))


def _time(reading: MeterReading, time: Time, guide: str) -> Ruling:
    if time.low is None and time.high is None:
        return Ruling(guide, Grade.NO_LIMIT, "no limit stated")
    low, high = time.low or 0.0, time.high
    if reading.value < low:
        return Ruling(
            guide,
            Grade.TOO_LITTLE,
            f"{plain_number(low - reading.value)} ms under {plain_number(low)}",
            low - reading.value,
            time.note,
        )
    if high is not None and reading.value > high:
        by = reading.value - high
        return Ruling(guide, Grade.TOO_MUCH, f"{plain_number(by)} ms over {plain_number(high)}", by, time.note)
    bounds = f"{plain_number(low)} to {plain_number(high)}" if time.low is not None and high is not None else ""
    one = f"at least {plain_number(low)}" if high is None else f"up to {plain_number(high)}"
    return Ruling(guide, Grade.WITHIN, f"inside {bounds or one} ms", note=time.note)
