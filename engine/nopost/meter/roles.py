"""What the readings say of each role: standby, the signal that asks, the signal that answers, the main rails, the cell."""

from __future__ import annotations

from collections.abc import Iterable

from nopost.knowledge.model import Rail, Signal
from nopost.meter.judge import Grade, band_of
from nopost.meter.reading import Kind, Reading, State
from nopost.meter.report import Judged, Report
from nopost.meter.states import is_gone, level


def standby_rails(report: Report) -> set[str]:
    """Names of the rails that are there whenever mains is."""
    return {rail.name for guide in report.guides for rail in guide.rails if rail.standby}


def asking(report: Report) -> Signal | None:
    """The signal by which the board asks the supply: low while it runs."""
    return _signal(report, "low")


def answering(report: Report) -> Signal | None:
    """The signal by which the supply says that all is well: high while it runs."""
    return _signal(report, "high")


def standby(report: Report) -> str:
    """`none`, `low`, `high`, `in-range`, or "" when it was not measured with mains on or the guides differ."""
    return "" if standby_is_odd(report) else _standby(report)


def standby_is_odd(report: Report) -> bool:
    """Whether standby reads as missing while main rails are there, which cannot be."""
    return _standby(report) == "none" and bool({"in-range", "low", "high"} & set(main_rails(report).values()))


def main_rails(report: Report) -> dict[str, str]:
    """Main rail -> `none`, `low`, `high`, `in-range` or `disputed`, of those measured while it runs."""
    names = dict.fromkeys(
        rail.name for guide in report.guides for rail in guide.rails if not rail.standby and not rail.nominal < 0
    )
    measured = {name: report.of(name, State.RUNNING) for name in names}
    return {name: _worst(told) or "disputed" for name, told in measured.items() if told}


def gone_after_press(report: Report) -> bool:
    """Whether main rails were measured while they should be there, and all are gone."""
    told = [j.reading for name in report.board_rails for j in report.of(name, State.RUNNING, State.PRESSED)]
    return bool(told) and all(is_gone(rail, reading.value) for reading in told for rail in _rails(report, reading))


def levels(report: Report, signal: Signal | None, *states: State) -> list[str]:
    """The levels at which a signal was seen in these states, in order."""
    return [level(signal, j.reading.value) for j in report.of(signal.name, *states)] if signal else []


def cell_answer(report: Report) -> tuple[str, str]:
    """Answer and words for the lowest reading of the coin cell; empty when there is none."""
    told = [j.reading.value for j in report.sure if j.reading.target.kind is Kind.CELL]
    return band_of(report.cell, min(told)) if told and report.cell else ("", "")


def _standby(report: Report) -> str:
    return _worst(j for name in standby_rails(report) for j in report.of(name) if j.reading.state is not State.OFF)


def _signal(report: Report, running: str) -> Signal | None:
    return next((s for guide in report.guides for s in guide.signals if s.running == running), None)


def _worst(told: Iterable[Judged]) -> str:
    """The worst that was seen; "" when there is nothing, or the guides differ."""
    found = {_sort(judged) for judged in told}
    return next((sort for sort in ("none", "disputed", "low", "high", "in-range") if sort in found), "").replace("disputed", "")


def _sort(judged: Judged) -> str:
    grades = {ruling.grade for ruling in judged.rulings}
    if judged.disputed:
        return "disputed"
    names = {Grade.MISSING: "none", Grade.TOO_LITTLE: "low", Grade.TOO_MUCH: "high"}
    return next((word for grade, word in names.items() if grade in grades), "in-range" if Grade.WITHIN in grades else "unsettled")


def _rails(report: Report, reading: Reading) -> list[Rail]:
    return [rail for guide in report.guides for rail in guide.rails if rail.name == reading.name]
