"""Limits for what a meter shows, as frozen values, and how they are built; `model` names them too. Volts, millivolts of ripple,
milliseconds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Rail:
    """A supply voltage: `low` to `high` in volts, `ripple` peak to peak in mV (0: not said)."""

    name: str
    nominal: float
    low: float
    high: float
    ripple: float = 0.0
    standby: bool = False
    optional: bool = False
    also: tuple[str, ...] = ()
    probe: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Signal:
    """A signal with two levels, each a range in volts; `idle` and `running`: the level it has then, "low" or "high"."""

    name: str
    low: tuple[float, float]
    high: tuple[float, float]
    idle: str
    running: str
    also: tuple[str, ...] = ()
    probe: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Time:
    """A time in milliseconds with the bounds that are stated; `of`: rails and signals whose time it is."""

    name: str
    what: str
    low: float | None = None
    high: float | None = None
    of: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class Pin:
    """A contact of a plug and the rail or signal on it; "ground" or "none" for no voltage."""

    plug: str
    pin: int
    carries: str
    wire: str = ""


@dataclass(frozen=True, slots=True)
class Band:
    """From so many volts up: the answer, and what it means."""

    low: float
    answer: str
    text: str


@dataclass(frozen=True, slots=True)
class CoinCell:
    """A coin cell judged by bands, highest first; `answers`: the finding that they answer."""

    name: str
    nominal: float
    highest: float
    finding: str
    bands: tuple[Band, ...]
    also: tuple[str, ...] = ()
    probe: str = ""


@dataclass(frozen=True, slots=True)
class Limits:
    """What one published guide, or common practice, says."""

    id: str
    title: str
    short: str
    rails: tuple[Rail, ...] = ()
    signals: tuple[Signal, ...] = ()
    times: tuple[Time, ...] = ()
    pins: tuple[Pin, ...] = ()
    cell: CoinCell | None = None
    source: str = ""

    @property
    def is_guide(self) -> bool:
        """Whether it limits rails, and is a column of its own."""
        return bool(self.rails)


def build_limits(data: Mapping[str, Any]) -> Limits:
    """Limits from data that passed the schema."""
    cell = data.get("cell")
    return Limits(
        id=data["id"],
        title=data["title"],
        short=data["short"],
        rails=tuple(_rail(rail) for rail in data.get("rails", ())),
        signals=tuple(_signal(signal) for signal in data.get("signals", ())),
        times=tuple(_time(time) for time in data.get("times", ())),
        pins=tuple(Pin(p["plug"], p["pin"], p["carries"], p.get("wire", "")) for p in data.get("pins", ())),
        cell=_cell(cell) if cell else None,
        source=data["source"],
    )


def _rail(data: Mapping[str, Any]) -> Rail:
    return Rail(
        name=data["name"],
        nominal=float(data["nominal"]),
        low=float(data["min"]),
        high=float(data["max"]),
        ripple=float(data.get("ripple", 0)),
        standby=data.get("standby", False),
        optional=data.get("optional", False),
        **_spellings(data),
    )


def _signal(data: Mapping[str, Any]) -> Signal:
    low, high = data["low"], data["high"]
    return Signal(
        data["name"],
        (float(low["min"]), float(low["max"])),
        (float(high["min"]), float(high["max"])),
        data["idle"],
        data["running"],
        **_spellings(data),
    )


def _time(data: Mapping[str, Any]) -> Time:
    low, high = (float(data[key]) if key in data else None for key in ("min", "max"))
    return Time(
        data["name"], data["what"], low, high, tuple(data.get("of", ())), tuple(data.get("also", ())), data.get("note", "")
    )


def _cell(data: Mapping[str, Any]) -> CoinCell:
    bands = tuple(Band(float(b["from"]), b["answer"], b["text"]) for b in data["bands"])
    also, probe = tuple(data.get("also", ())), data.get("probe", "")
    return CoinCell(data["name"], float(data["nominal"]), float(data["highest"]), data["finding"], bands, also, probe)


def _spellings(data: Mapping[str, Any]) -> dict[str, Any]:
    return {"also": tuple(data.get("also", ())), "probe": data.get("probe", ""), "note": data.get("note", "")}
