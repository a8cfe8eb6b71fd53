"""All readings judged by all guides, and what was not measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nopost.errors import NopostError, UnknownNameError
from nopost.knowledge.model import Cell, Limits
from nopost.meter.doubt import doubt
from nopost.meter.judge import Ruling, judge
from nopost.meter.names import MAIN_PLUG
from nopost.meter.reading import Kind, Reading, State
from nopost.meter.states import with_states

BOTH = ("both", "all")


@dataclass(frozen=True, slots=True)
class Judged:
    """A reading, why it is doubted ("" when it is not), and what each guide makes of it, in the guides' order."""

    reading: Reading
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
class Report:
    """What the readings come to. `state`: of readings that did not say theirs; `taken`: it was taken from the readings."""

    judged: tuple[Judged, ...]
    guides: tuple[Limits, ...]
    cell: Cell | None
    state: State
    taken: bool
    alone: bool
    board_rails: tuple[str, ...] = ()

    @property
    def sure(self) -> tuple[Judged, ...]:
        """Those that are not doubted."""
        return tuple(judged for judged in self.judged if not judged.doubt)

    @property
    def doubted(self) -> tuple[Judged, ...]:
        """Those to be checked first."""
        return tuple(judged for judged in self.judged if judged.doubt)

    def of(self, name: str, *states: State) -> tuple[Judged, ...]:
        """The readings of this name that are not doubted, taken in one of these states (any when none is named)."""
        return tuple(j for j in self.sure if j.reading.name == name and (not states or j.reading.state in states))


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


def cell_of(limits: Mapping[str, Limits]) -> Cell | None:
    """The coin cell that has bands, if any."""
    return next((each.cell for each in limits.values() if each.cell), None)


def make_report(
    readings: Sequence[Reading],
    limits: Mapping[str, Limits],
    guide: str = "both",
    state: State = State.NOT_SAID,
    alone: bool = False,
) -> Report:
    """Judge all readings. `state` holds for those that do not say theirs; `alone`: the supply is tested by itself."""
    guides, cell = guides_of(limits, guide), cell_of(limits)
    doubts = [doubt(reading, guides, cell) for reading in readings]
    told, taken = with_states(readings, [not why for why in doubts], state, guides)
    judged = tuple(_judged(reading, why, guides) for reading, why in zip(told, doubts, strict=True))
    return Report(judged, guides, cell, taken, taken is not state, alone, _board_rails(limits, guides))


def _board_rails(limits: Mapping[str, Limits], guides: Sequence[Limits]) -> tuple[str, ...]:
    """Positive rails that are off in standby; those on the wide plug when the limits say what is on it."""
    on_plug = {pin.carries for each in limits.values() for pin in each.pins if pin.plug == MAIN_PLUG}
    rails = [rail.name for guide in guides for rail in guide.rails if not rail.standby and rail.nominal > 0]
    return tuple(dict.fromkeys(name for name in rails if not on_plug or name in on_plug))


def _judged(reading: Reading, why: str, guides: Sequence[Limits]) -> Judged:
    rulings = () if reading.target.kind is Kind.CELL else tuple(judge(reading, guide) for guide in guides)
    return Judged(reading, why, rulings)
