"""Readings that no supply gives: tips swapped, unit or point mistaken, the tip on another contact."""

from __future__ import annotations

from collections.abc import Sequence

from nopost.knowledge.meter_limits import CoinCell, Limits, Rail, Signal
from nopost.meter.reading import MeasurandKind, MeterReading, is_missing

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
    signal = _signal(reading.name, guides)
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


def _signal(name: str, guides: Sequence[Limits]) -> Signal | None:
    return next((signal for guide in guides for signal in guide.signals if signal.name == name), None)
