"""What the readings mean, in sentences."""

from __future__ import annotations

import enum
from collections.abc import Iterator
from dataclasses import dataclass

from nopost.meter import roles
from nopost.meter.judge import Grade
from nopost.meter.reading import STATE_WORDS, Kind, State
from nopost.meter.report import Judged, Report


class Weight(enum.StrEnum):
    """How grave a sentence is."""

    BAD = "bad"
    CHECK = "check"
    NOTE = "note"
    GOOD = "good"


@dataclass(frozen=True, slots=True)
class Sentence:
    """One thing to say."""

    weight: Weight
    text: str


RIPPLE = (
    "A plain multimeter cannot show ripple: it takes an oscilloscope at the plug. Take a ripple value only from such an "
    "instrument."
)
LOAD = (
    "A supply that is tested alone needs a load, such as an old drive or case fan: without one it may not start, or its "
    "voltages lie outside although nothing is wrong. And passing alone proves little: with the machine on it, it can still fail."
)


def sentences(report: Report) -> list[Sentence]:
    """What the readings mean, the most important first within each part of the supply."""
    return [*_first(report), *_standby(report), *_asked(report), *_rails(report), *_good(report), *_rest(report), *_notes(report)]


def _first(report: Report) -> Iterator[Sentence]:
    if report.taken:
        told = STATE_WORDS[report.state]
        yield Sentence(Weight.NOTE, f"From the readings the machine is taken as: {told}. If that is wrong, say --state.")
    if report.doubted:
        count = len(report.doubted)
        what = "One reading is" if count == 1 else f"{count} readings are"
        yield Sentence(
            Weight.CHECK, f"{what} not believed, and nothing is made of {'it' if count == 1 else 'them'}; measure again."
        )


def _standby(report: Report) -> Iterator[Sentence]:
    left = [j for name in roles.standby_rails(report) for j in report.of(name, State.OFF) if Grade.NOT_OFF in _grades(j)]
    if left:
        yield Sentence(
            Weight.BAD, "Standby is there although the lead should be out: mains is on, or charge is left. Wait, measure again."
        )
    if roles.standby_is_odd(report):
        yield Sentence(Weight.CHECK, "Standby reads as missing although main voltages are there: measure it again.")
    said = {
        "none": (
            Weight.BAD,
            "Standby is missing: mains, the supply's own switch, the lead, or the supply. The other rails need not be measured.",
        ),
        "low": (Weight.BAD, "Standby is too low: the supply is failing, or something on the board or on USB draws it down."),
        "high": (Weight.BAD, "Standby is too high: switch off, unplug, and do not use this supply again."),
        "in-range": (Weight.GOOD, "Standby is right: mains, lead and switch are in order, and the supply is alive."),
    }
    if (found := roles.standby(report)) in said:
        yield Sentence(*said[found])


def _asked(report: Report) -> Iterator[Sentence]:
    signal = roles.asking(report)
    if signal is None or roles.standby(report) == "none" or (report.alone and not roles.gone_after_press(report)):
        return
    before, pressed = roles.levels(report, signal, State.STANDBY), roles.levels(report, signal, State.PRESSED)
    running = roles.levels(report, signal, State.RUNNING)
    if "low" in before:
        yield Sentence(
            Weight.BAD, f"{signal.name} is low with the machine off: the board or a short holds it, or standby is missing."
        )
    elif before and set(before) == {"high"}:
        yield Sentence(Weight.GOOD, f"{signal.name} is high with the machine off, as it should be.")
    if pressed and set(pressed) == {"high"}:
        yield Sentence(
            Weight.BAD,
            f"{signal.name} stays high at the press: the board does not ask. Button, its lead, or the board; not the supply.",
        )
    elif "low" in pressed and pressed[-1] == "high":
        yield Sentence(
            Weight.BAD, f"{signal.name} falls and rises again: the board takes its request back, or protection steps in."
        )
    elif "low" in pressed or "low" in running:
        gone = roles.gone_after_press(report)
        blamed = "the supply has failed" if report.alone else "the supply, or a short that trips its protection"
        more = f" The supply is asked and gives nothing: {blamed}." if gone else ""
        yield Sentence(
            Weight.BAD if gone else Weight.GOOD,
            f"{signal.name} is low: {'the supply is asked' if report.alone else 'the board asks the supply'} to run.{more}",
        )


def _rails(report: Report) -> Iterator[Sentence]:
    found = roles.main_rails(report)
    if roles.gone_after_press(report):
        if not roles.levels(report, roles.asking(report), State.RUNNING, State.PRESSED) and roles.standby(report) != "none":
            asks = roles.asking(report)
            yield Sentence(
                Weight.BAD, f"No main voltage is there.{f' Measure {asks.name}: is the supply asked to run?' if asks else ''}"
            )
        return
    for sort, words in (("none", "missing"), ("low", "too low"), ("high", "too high")):
        names = [name for name, state in found.items() if state == sort]
        if names:
            verb = "is" if len(names) == 1 else "are"
            why = "the supply is weak or failing, or overloaded"
            if sort == "high":  # a load pulls a voltage down, never up
                why = "the supply is failing; stop, unplug: too much voltage destroys parts"
            yield Sentence(Weight.BAD, f"{' and '.join(names)} {verb} {words} while it runs: {why}.")
    for name in (name for name, state in found.items() if state == "disputed"):
        yield Sentence(Weight.CHECK, f"The guides disagree on {name}: look how old the supply is, and choose with --guide.")
    if found and set(found.values()) == {"in-range"}:
        missing = [name for name in report.board_rails if name not in found]
        more = f" Not measured: {', '.join(missing)}." if missing else ""
        yield Sentence(Weight.GOOD, f"{', '.join(found)}: within limits while it runs.{more}")


def _good(report: Report) -> Iterator[Sentence]:
    signal = roles.answering(report)
    seen = roles.levels(report, signal, State.RUNNING)
    if signal is None or not seen or roles.gone_after_press(report):
        return
    bad_rail = {"none", "low", "high"} & set(roles.main_rails(report).values())
    if set(seen) == {"high"}:
        yield Sentence(Weight.GOOD, f"{signal.name} is high: the supply says that its voltages are good.")
    elif bad_rail:
        yield Sentence(Weight.NOTE, f"{signal.name} is not high; that follows from the main voltage that is out.")
    else:
        yield Sentence(
            Weight.BAD,
            f"{signal.name} is not steadily high while it runs: the board keeps the CPU in reset. The supply, or its plug.",
        )


def _rest(report: Report) -> Iterator[Sentence]:
    answer, words = roles.cell_answer(report)
    if report.cell and answer:
        place = [band.answer for band in report.cell.bands].index(answer)
        weight = (Weight.GOOD, Weight.CHECK)[place] if place < 2 < len(report.cell.bands) else Weight.BAD
        yield Sentence(weight, f"Coin cell: {words[0].lower()}{words[1:]}.")
    for judged in report.sure:
        if judged.reading.target.kind is Kind.TIME and judged.bad:
            yield Sentence(
                Weight.BAD, f"{judged.reading.name} is outside what every guide allows: the supply is slow or failing."
            )
    measured = any(j.reading.target.kind in (Kind.RAIL, Kind.SIGNAL) for j in report.sure)
    standby = any(report.of(name) for name in roles.standby_rails(report))
    if measured and not standby and report.state is not State.RUNNING:
        yield Sentence(
            Weight.CHECK, f"Measure {', '.join(sorted(roles.standby_rails(report)))} first: without it nothing else can come up."
        )


def _notes(report: Report) -> Iterator[Sentence]:
    unsettled = [j.reading.name for j in report.sure if j.reading.state is State.NOT_SAID and Grade.UNSETTLED in _grades(j)]
    if unsettled:
        names = ", ".join(dict.fromkeys(unsettled))
        yield Sentence(
            Weight.CHECK, f"{names}: say how the machine was with --state; not there is right in standby and wrong while it runs."
        )
    for judged in report.sure:
        if judged.rulings and all(" over " in ruling.ripple for ruling in judged.rulings):
            yield Sentence(Weight.BAD, f"{judged.reading.name} has too much ripple: the supply is worn or overloaded.")
    if report.alone or any(state in ("low", "high") for state in roles.main_rails(report).values()):
        yield Sentence(Weight.NOTE, LOAD)
    if any(judged.reading.ripple is not None for judged in report.judged):
        yield Sentence(Weight.NOTE, RIPPLE)
    whats = {time.name: time.what for guide in report.guides for time in guide.times}
    for name in dict.fromkeys(j.reading.name for j in report.judged if j.reading.target.kind is Kind.TIME):
        yield Sentence(Weight.NOTE, f"{name}: {whats.get(name, '')}.")
    for guide in report.guides:
        told = dict.fromkeys(r.note for j in report.sure for r in j.rulings if r.guide == guide.id and r.note and r.bad)
        yield from (Sentence(Weight.NOTE, f"{guide.short}: {note}.") for note in told)


def _grades(judged: Judged) -> set[Grade]:
    return {ruling.grade for ruling in judged.rulings}
