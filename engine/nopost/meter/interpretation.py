"""What the readings mean: as answers to findings, so that a diagnosis can go on from them, and in sentences.

Each thing is told once: what follows from a missing standby voltage, or from a bad main voltage, is not told again.
"""

from __future__ import annotations

import enum
from collections.abc import Iterator
from dataclasses import dataclass

from nopost.knowledge.roles import FindingRole, Roles
from nopost.meter import supply
from nopost.meter.limit_check import Grade
from nopost.meter.reading import POWER_STATE_WORDS, MeasurandKind, PowerState
from nopost.meter.supply import JudgedReading, MeasurementReport


def answers(report: MeasurementReport, roles: Roles) -> dict[str, str]:
    """Finding -> answer, for the findings that have a role in this knowledge base, and for the one that the coin cell names."""
    seen = {FindingRole.METER_STANDBY: supply.standby_level(report)}
    if report.alone:
        seen[FindingRole.METER_SUPPLY_ALONE] = _supply_alone_seen(report)
    else:
        seen[FindingRole.METER_START_SIGNAL] = _start_signal_seen(report)
        seen[FindingRole.METER_MAIN_RAILS] = _main_rails_seen(report)
        seen[FindingRole.METER_POWER_GOOD] = _power_good_seen(report)
    cell, _ = supply.cell_answer(report)
    return roles.answers(seen) | ({report.cell.finding: cell} if report.cell and cell else {})


def _supply_alone_seen(report: MeasurementReport) -> str:
    """Whether a supply that is tested by itself runs; without a load its voltages say no more than that."""
    if supply.dead_after_press(report):
        asked = supply.signal_levels(report, supply.start_signal(report), PowerState.RUNNING, PowerState.PRESSED)
        return "does-not-start" if asked and set(asked) == {"low"} else ""
    return (
        "does-start"
        if set(report.board_rails) <= set(supply.main_rail_levels(report)) and "none" not in _main_rail_level_set(report)
        else ""
    )


def _main_rail_level_set(report: MeasurementReport) -> set[str]:
    return set(supply.main_rail_levels(report).values())


def _start_signal_seen(report: MeasurementReport) -> str:
    """The start signal, only where the machine does not run: there it follows from that."""
    signal, standby = supply.start_signal(report), supply.standby_level(report)
    if signal is None or standby == "none":
        return ""
    before, pressed = (
        supply.signal_levels(report, signal, PowerState.STANDBY),
        supply.signal_levels(report, signal, PowerState.PRESSED),
    )
    if supply.dead_after_press(report):
        pressed += supply.signal_levels(report, signal, PowerState.RUNNING)
    if before and set(before) == {"low"}:
        return "held-low" if standby else ""
    if "low" in pressed:
        return "let-go" if pressed[-1] == "high" else "pulled-low"
    return "not-pulled" if pressed and set(pressed) == {"high"} else ""


def _main_rails_seen(report: MeasurementReport) -> str:
    """The main voltages while it runs; nothing when all are gone, for then it does not run."""
    found = supply.main_rail_levels(report)
    if supply.standby_level(report) == "none" or supply.dead_after_press(report):
        return ""
    if "none" in found.values():
        return "none"
    if "high" in found.values():
        return "high"
    if "low" in found.values():
        return "low"
    whole = bool(report.board_rails) and set(report.board_rails) <= set(found)
    return "in-range" if whole and set(found.values()) == {"in-range"} else ""


def _power_good_seen(report: MeasurementReport) -> str:
    """The power-good signal while it runs and no main voltage is bad."""
    if (
        supply.dead_after_press(report)
        or _main_rails_seen(report) in ("high", "low", "none")
        or supply.standby_level(report) == "none"
    ):
        return ""
    seen = set(supply.signal_levels(report, supply.power_good_signal(report), PowerState.RUNNING))
    if not seen or "beyond" in seen:
        return ""
    return seen.pop() if seen in ({"high"}, {"low"}) else "changing"


class SentenceSeverity(enum.StrEnum):
    """How grave a sentence is."""

    BAD = "bad"
    CHECK = "check"
    NOTE = "note"
    GOOD = "good"


@dataclass(frozen=True, slots=True)
class Sentence:
    """One thing to say."""

    weight: SentenceSeverity
    text: str


RIPPLE_WORDS = (
    "A plain multimeter cannot show ripple: it takes an oscilloscope at the plug. Take a ripple value only from such an "
    "instrument."
)
LOAD_WORDS = (
    "A supply that is tested alone needs a load, such as an old drive or case fan: without one it may not start, or its "
    "voltages lie outside although nothing is wrong. And passing alone proves little: with the machine on it, it can still fail."
)


def sentences(report: MeasurementReport) -> list[Sentence]:
    """What the readings mean, the most important first within each part of the supply."""
    return [
        *_opening_sentences(report),
        *_standby_sentences(report),
        *_start_signal_sentences(report),
        *_main_rail_sentences(report),
        *_power_good_sentences(report),
        *_other_sentences(report),
        *_note_sentences(report),
    ]


def _opening_sentences(report: MeasurementReport) -> Iterator[Sentence]:
    if report.taken:
        told = POWER_STATE_WORDS[report.state]
        yield Sentence(
            SentenceSeverity.NOTE, f"From the readings the machine is taken as: {told}. If that is wrong, say --state."
        )
    if report.doubted:
        count = len(report.doubted)
        what = "One reading is" if count == 1 else f"{count} readings are"
        yield Sentence(
            SentenceSeverity.CHECK,
            f"{what} not believed, and nothing is made of {'it' if count == 1 else 'them'}; measure again.",
        )


def _standby_sentences(report: MeasurementReport) -> Iterator[Sentence]:
    left = [j for name in supply.standby_rails(report) for j in report.of(name, PowerState.OFF) if Grade.NOT_OFF in _grades(j)]
    if left:
        yield Sentence(
            SentenceSeverity.BAD,
            "Standby is there although the lead should be out: mains is on, or charge is left. Wait, measure again.",
        )
    if supply.standby_is_odd(report):
        yield Sentence(SentenceSeverity.CHECK, "Standby reads as missing although main voltages are there: measure it again.")
    said = {
        "none": (
            SentenceSeverity.BAD,
            "Standby is missing: mains, the supply's own switch, the lead, or the supply. The other rails need not be measured.",
        ),
        "low": (
            SentenceSeverity.BAD,
            "Standby is too low: the supply is failing, or something on the board or on USB draws it down.",
        ),
        "high": (SentenceSeverity.BAD, "Standby is too high: switch off, unplug, and do not use this supply again."),
        "in-range": (SentenceSeverity.GOOD, "Standby is right: mains, lead and switch are in order, and the supply is alive."),
    }
    if (found := supply.standby_level(report)) in said:
        yield Sentence(*said[found])


def _start_signal_sentences(report: MeasurementReport) -> Iterator[Sentence]:
    signal = supply.start_signal(report)
    if signal is None or supply.standby_level(report) == "none" or (report.alone and not supply.dead_after_press(report)):
        return
    before, pressed = (
        supply.signal_levels(report, signal, PowerState.STANDBY),
        supply.signal_levels(report, signal, PowerState.PRESSED),
    )
    running = supply.signal_levels(report, signal, PowerState.RUNNING)
    if "low" in before:
        yield Sentence(
            SentenceSeverity.BAD,
            f"{signal.name} is low with the machine off: the board or a short holds it, or standby is missing.",
        )
    elif before and set(before) == {"high"}:
        yield Sentence(SentenceSeverity.GOOD, f"{signal.name} is high with the machine off, as it should be.")
    if pressed and set(pressed) == {"high"}:
        yield Sentence(
            SentenceSeverity.BAD,
            f"{signal.name} stays high at the press: the board does not ask. Button, its lead, or the board; not the supply.",
        )
    elif "low" in pressed and pressed[-1] == "high":
        yield Sentence(
            SentenceSeverity.BAD,
            f"{signal.name} falls and rises again: the board takes its request back, or protection steps in.",
        )
    elif "low" in pressed or "low" in running:
        gone = supply.dead_after_press(report)
        blamed = "the supply has failed" if report.alone else "the supply, or a short that trips its protection"
        more = f" The supply is asked and gives nothing: {blamed}." if gone else ""
        yield Sentence(
            SentenceSeverity.BAD if gone else SentenceSeverity.GOOD,
            f"{signal.name} is low: {'the supply is asked' if report.alone else 'the board asks the supply'} to run.{more}",
        )


def _main_rail_sentences(report: MeasurementReport) -> Iterator[Sentence]:
    found = supply.main_rail_levels(report)
    if supply.dead_after_press(report):
        if (
            not supply.signal_levels(report, supply.start_signal(report), PowerState.RUNNING, PowerState.PRESSED)
            and supply.standby_level(report) != "none"
        ):
            asks = supply.start_signal(report)
            yield Sentence(
                SentenceSeverity.BAD,
                f"No main voltage is there.{f' Measure {asks.name}: is the supply asked to run?' if asks else ''}",
            )
        return
    for sort, words in (("none", "missing"), ("low", "too low"), ("high", "too high")):
        names = [name for name, state in found.items() if state == sort]
        if names:
            verb = "is" if len(names) == 1 else "are"
            why = "the supply is weak or failing, or overloaded"
            if sort == "high":  # a load pulls a voltage down, never up
                why = "the supply is failing; stop, unplug: too much voltage destroys parts"
            yield Sentence(SentenceSeverity.BAD, f"{' and '.join(names)} {verb} {words} while it runs: {why}.")
    for name in (name for name, state in found.items() if state == "disputed"):
        yield Sentence(
            SentenceSeverity.CHECK, f"The guides disagree on {name}: look how old the supply is, and choose with --guide."
        )
    if found and set(found.values()) == {"in-range"}:
        missing = [name for name in report.board_rails if name not in found]
        more = f" Not measured: {', '.join(missing)}." if missing else ""
        yield Sentence(SentenceSeverity.GOOD, f"{', '.join(found)}: within limits while it runs.{more}")


def _power_good_sentences(report: MeasurementReport) -> Iterator[Sentence]:
    signal = supply.power_good_signal(report)
    seen = supply.signal_levels(report, signal, PowerState.RUNNING)
    if signal is None or not seen or supply.dead_after_press(report):
        return
    bad_rail = {"none", "low", "high"} & set(supply.main_rail_levels(report).values())
    if set(seen) == {"high"}:
        yield Sentence(SentenceSeverity.GOOD, f"{signal.name} is high: the supply says that its voltages are good.")
    elif bad_rail:
        yield Sentence(SentenceSeverity.NOTE, f"{signal.name} is not high; that follows from the main voltage that is out.")
    else:
        yield Sentence(
            SentenceSeverity.BAD,
            f"{signal.name} is not steadily high while it runs: the board keeps the CPU in reset. The supply, or its plug.",
        )


def _other_sentences(report: MeasurementReport) -> Iterator[Sentence]:
    answer, words = supply.cell_answer(report)
    if report.cell and answer:
        place = [band.answer for band in report.cell.bands].index(answer)
        weight = (
            (SentenceSeverity.GOOD, SentenceSeverity.CHECK)[place] if place < 2 < len(report.cell.bands) else SentenceSeverity.BAD
        )
        yield Sentence(weight, f"Coin cell: {words[0].lower()}{words[1:]}.")
    for judged in report.sure:
        if judged.reading.target.kind is MeasurandKind.TIME and judged.bad:
            yield Sentence(
                SentenceSeverity.BAD, f"{judged.reading.name} is outside what every guide allows: the supply is slow or failing."
            )
    measured = any(j.reading.target.kind in (MeasurandKind.RAIL, MeasurandKind.SIGNAL) for j in report.sure)
    standby = any(report.of(name) for name in supply.standby_rails(report))
    if measured and not standby and report.state is not PowerState.RUNNING:
        yield Sentence(
            SentenceSeverity.CHECK,
            f"Measure {', '.join(sorted(supply.standby_rails(report)))} first: without it nothing else can come up.",
        )


def _note_sentences(report: MeasurementReport) -> Iterator[Sentence]:
    unsettled = [j.reading.name for j in report.sure if j.reading.state is PowerState.NOT_SAID and Grade.UNSETTLED in _grades(j)]
    if unsettled:
        names = ", ".join(dict.fromkeys(unsettled))
        yield Sentence(
            SentenceSeverity.CHECK,
            f"{names}: say how the machine was with --state; not there is right in standby and wrong while it runs.",
        )
    for judged in report.sure:
        if judged.rulings and all(" over " in ruling.ripple for ruling in judged.rulings):
            yield Sentence(SentenceSeverity.BAD, f"{judged.reading.name} has too much ripple: the supply is worn or overloaded.")
    if report.alone or any(state in ("low", "high") for state in supply.main_rail_levels(report).values()):
        yield Sentence(SentenceSeverity.NOTE, LOAD_WORDS)
    if any(judged.reading.ripple is not None for judged in report.judged):
        yield Sentence(SentenceSeverity.NOTE, RIPPLE_WORDS)
    whats = {time.name: time.what for guide in report.guides for time in guide.times}
    for name in dict.fromkeys(j.reading.name for j in report.judged if j.reading.target.kind is MeasurandKind.TIME):
        yield Sentence(SentenceSeverity.NOTE, f"{name}: {whats.get(name, '')}.")
    for guide in report.guides:
        told = dict.fromkeys(r.note for j in report.sure for r in j.rulings if r.guide == guide.id and r.note and r.bad)
        yield from (Sentence(SentenceSeverity.NOTE, f"{guide.short}: {note}.") for note in told)


def _grades(judged: JudgedReading) -> set[Grade]:
    return {ruling.grade for ruling in judged.rulings}
