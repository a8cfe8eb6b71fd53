"""One reading against one guide: inside or outside which limit, and by how much.

Before that, readings that no supply gives: tips swapped, unit or point mistaken, the tip on another contact.
"""

from __future__ import annotations

import enum
from collections.abc import Sequence
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


MAINS = (60.0, 450.0)
"""Volts that could be mains; 60 V is also where a low voltage ends for a person (from memory)."""
MAINS_WORDS = "that would be mains voltage: take the tips away and switch off; nothing outside the supply carries that much"
SLIPS = ((1000.0, "millivolts written as volts"), (100.0, "the decimal point is missing"), (10.0, "the decimal point is missing"))
FAR = 0.25
"""So far from nominal, as a share of it, no rail stands by drifting; another explanation is looked for first."""


def doubt(reading: MeterReading, guides: Sequence[Limits], cell: CoinCell | None) -> str:
    """Why the reading should be checked before anything is made of it; "" when it can be."""
    kind = reading.measurand.kind
    if kind is MeasurandKind.TIME or not guides:
        return ""
    mains = MAINS_WORDS if MAINS[0] <= abs(reading.value) <= MAINS[1] else ""
    slip = _slip(reading, guides, cell)
    if slip or mains:
        return f"{slip} If the meter really shows that: {mains}" if slip and mains else slip or mains
    if kind is MeasurandKind.CELL:
        return _cell_doubt(reading, cell)
    if kind in (MeasurandKind.GROUND, MeasurandKind.NOTHING):
        return _no_voltage_doubt(reading, guides)
    if kind is MeasurandKind.SIGNAL:
        return _signal_doubt(reading, guides)
    return _rail_doubt(reading, guides)


def _slip(reading: MeterReading, guides: Sequence[Limits], cell: CoinCell | None) -> str:
    """A unit or point mistaken: the value is far too large, and right when divided."""
    most = max(highest(reading, guides, cell), 0.1)
    if abs(reading.value) <= 2.5 * most:
        return ""
    for factor, words in SLIPS:
        meant = reading.value / factor
        if _fits(reading, meant, guides, cell):
            return f"is {meant:.4g} V meant? ({words})"
    return ""


def highest(reading: MeterReading, guides: Sequence[Limits], cell: CoinCell | None) -> float:
    """The largest magnitude in volts that any guide allows for it; 0 for ground."""
    rails = [max(abs(rail.low), abs(rail.high)) for guide in guides for rail in guide.rails if rail.name == reading.name]
    signals = [signal.high[1] for guide in guides for signal in guide.signals if signal.name == reading.name]
    cells = [cell.highest] if cell and reading.measurand.kind is MeasurandKind.CELL else []
    return max([*rails, *signals, *cells, 0.0])


def _fits(reading: MeterReading, volts: float, guides: Sequence[Limits], cell: CoinCell | None) -> bool:
    if reading.measurand.kind is MeasurandKind.CELL:
        return cell is not None and 0.5 <= volts <= cell.highest
    if reading.measurand.kind is MeasurandKind.SIGNAL:
        return any(s.high[0] <= volts <= s.high[1] for g in guides for s in g.signals if s.name == reading.name)
    return any(abs(volts - rail.nominal) < abs(rail.nominal) * FAR for rail in _rails(reading.name, guides))


def _rail_doubt(reading: MeterReading, guides: Sequence[Limits]) -> str:
    own = _rails(reading.name, guides)
    if not own or any(is_missing(rail, reading.value) for rail in own):
        return ""
    nominal = own[0].nominal
    if abs(reading.value - nominal) <= abs(nominal) * FAR:
        return ""
    if abs(-reading.value - nominal) <= abs(nominal) * FAR:
        return "the sign is turned round: are red and black tip swapped, or is it the other 12 V wire?"
    other = _other(reading, guides)
    if other:
        return f"it looks like {other.name}: is the tip on the right contact?"
    if abs(reading.value) > 1.5 * abs(nominal) or reading.value * nominal < 0:
        return "no supply gives this: check the range (DC volts, 20 V), the tips and the meter's battery"
    return ""


def _signal_doubt(reading: MeterReading, guides: Sequence[Limits]) -> str:
    signal = _implausible_signal(reading.name, guides)
    if signal is None or -0.5 <= reading.value <= signal.high[1] + 0.5:
        return ""
    other = _other(reading, guides)
    if other and abs(other.nominal) > signal.high[1]:
        return f"a signal never goes so far; it looks like {other.name}: is the tip on the right contact?"
    return "a signal never goes so far: check the range (DC volts, 20 V), the tips and the contact"


def _no_voltage_doubt(reading: MeterReading, guides: Sequence[Limits]) -> str:
    if abs(reading.value) < 0.5:
        return ""
    what = "a ground contact" if reading.measurand.kind is MeasurandKind.GROUND else "a contact that is not connected"
    other = _other(reading, guides)
    return f"no voltage belongs on {what}" + (f"; it looks like {other.name}" if other else "") + ": check contact and black tip"


def _cell_doubt(reading: MeterReading, cell: CoinCell | None) -> str:
    if cell and reading.value < -0.5:
        return "the sign is turned round: the marked upper face is plus"
    if cell and reading.value > cell.highest:
        return f"a cell of {cell.nominal:g} V never shows more than {cell.highest:g} V: check the tips and the meter's battery"
    return ""


def _other(reading: MeterReading, guides: Sequence[Limits]) -> Rail | None:
    """Another rail within whose limits the value lies."""
    for guide in guides:
        for rail in guide.rails:
            if rail.low <= reading.value <= rail.high and rail.nominal not in {
                own.nominal for own in _rails(reading.name, guides)
            }:
                return rail
    return None


def _rails(name: str, guides: Sequence[Limits]) -> list[Rail]:
    return [rail for guide in guides for rail in guide.rails if rail.name == name]


def _implausible_signal(name: str, guides: Sequence[Limits]) -> Signal | None:
    return next((signal for guide in guides for signal in guide.signals if signal.name == name), None)
