"""What the readings mean: as answers to findings, so that a diagnosis can go on from them, and in sentences.

Each thing is told once: what follows from a missing standby voltage, or from a bad main voltage, is not told again.
"""

from __future__ import annotations

import enum
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nopost.knowledge.roles import FindingRole, Roles
from nopost.meter import supply
from nopost.meter.limit_check import Grade
from nopost.meter.reading import POWER_STATE_WORDS, MeasurandKind, PowerState
from nopost.meter.supply import JudgedReading, MeasurementReport, StartSignalCourse, SupplyState, supply_state


def answers(report: MeasurementReport, roles: Roles) -> dict[str, str]:
    """Finding -> answer, for the findings that have a role in this knowledge base, and for the one that the coin cell names."""
    state = supply_state(report)
    seen = {FindingRole.METER_STANDBY: state.standby}
    if report.alone:
        seen[FindingRole.METER_SUPPLY_ALONE] = _supply_alone_seen(state, report.board_rails)
    else:
        seen[FindingRole.METER_START_SIGNAL] = _start_signal_seen(state)
        seen[FindingRole.METER_MAIN_RAILS] = _main_rails_seen(state, report.board_rails)
        seen[FindingRole.METER_POWER_GOOD] = _power_good_seen(state)
    cell, _ = supply.cell_answer(report)
    return roles.answers(seen) | ({report.cell.finding: cell} if report.cell and cell else {})


def _supply_alone_seen(state: SupplyState, board_rails: Sequence[str]) -> str:
    """Whether a supply that is tested by itself runs; without a load its voltages say no more than that."""
    if state.dead:
        return "does-not-start" if set(state.asked) == {"low"} else ""
    return "does-start" if set(board_rails) <= set(state.main_rails) and "none" not in state.main_rails.values() else ""


def _start_signal_seen(state: SupplyState) -> str:
    """The start signal, only where the machine does not run: there it follows from that."""
    if state.start_signal is None or state.standby == "none":
        return ""
    if set(state.idle) == {"low"}:
        return "held-low" if state.standby else ""
    return state.start


def _main_rails_seen(state: SupplyState, board_rails: Sequence[str]) -> str:
    """The worst of the main voltages while it runs; nothing when all are gone, for then it does not run."""
    if state.standby == "none" or state.dead:
        return ""
    levels = set(state.main_rails.values())
    if worst := next((level for level in ("none", "high", "low") if level in levels), ""):
        return worst
    whole = bool(board_rails) and set(board_rails) <= set(state.main_rails)
    return "in-range" if whole and levels == {"in-range"} else ""


def _power_good_seen(state: SupplyState) -> str:
    """The power-good signal while it runs and no main voltage is bad."""
    seen = set(state.power_good)
    if state.dead or state.bad_rail or state.standby == "none" or not seen or "beyond" in seen:
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

    severity: SentenceSeverity
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
    state = supply_state(report)
    return [
        *_opening_sentences(report),
        *_standby_sentences(report, state),
        *_start_signal_sentences(state, report.alone),
        *_main_rail_sentences(state, report.board_rails),
        *_power_good_sentences(state),
        *_other_sentences(report),
        *_note_sentences(report, state),
    ]


def _opening_sentences(report: MeasurementReport) -> Iterator[Sentence]:
    if report.state_inferred:
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


def _standby_sentences(report: MeasurementReport, state: SupplyState) -> Iterator[Sentence]:
    left = [j for name in supply.standby_rails(report) for j in report.of(name, PowerState.OFF) if Grade.NOT_OFF in _grades(j)]
    if left:
        yield Sentence(
            SentenceSeverity.BAD,
            "Standby is there although the lead should be out: mains is on, or charge is left. Wait, measure again.",
        )
    if state.standby_odd:
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
    if state.standby in said:
        yield Sentence(*said[state.standby])


def _start_signal_sentences(state: SupplyState, alone: bool) -> Iterator[Sentence]:
    signal = state.start_signal
    if signal is None or state.standby == "none" or (alone and not state.dead):
        return
    if "low" in state.idle:
        yield Sentence(
            SentenceSeverity.BAD,
            f"{signal.name} is low with the machine off: the board or a short holds it, or standby is missing.",
        )
    elif set(state.idle) == {"high"}:
        yield Sentence(SentenceSeverity.GOOD, f"{signal.name} is high with the machine off, as it should be.")
    if state.start is StartSignalCourse.NOT_PULLED:
        yield Sentence(
            SentenceSeverity.BAD,
            f"{signal.name} stays high at the press: the board does not ask. Button, its lead, or the board; not the supply.",
        )
    elif state.start is StartSignalCourse.LET_GO:
        yield Sentence(
            SentenceSeverity.BAD,
            f"{signal.name} falls and rises again: the board takes its request back, or protection steps in.",
        )
    elif "low" in state.asked:
        yield _asked_sentence(signal.name, state.dead, alone)


def _asked_sentence(name: str, dead: bool, alone: bool) -> Sentence:
    """The start signal asks the supply to run: whether it does."""
    asker = "the supply is asked" if alone else "the board asks the supply"
    if not dead:
        return Sentence(SentenceSeverity.GOOD, f"{name} is low: {asker} to run.")
    blamed = "the supply has failed" if alone else "the supply, or a short that trips its protection"
    return Sentence(SentenceSeverity.BAD, f"{name} is low: {asker} to run. The supply is asked and gives nothing: {blamed}.")


def _main_rail_sentences(state: SupplyState, board_rails: Sequence[str]) -> Iterator[Sentence]:
    found = state.main_rails
    if state.dead:
        if not state.asked and state.standby != "none":
            asks = f" Measure {state.start_signal.name}: is the supply asked to run?" if state.start_signal else ""
            yield Sentence(SentenceSeverity.BAD, f"No main voltage is there.{asks}")
        return
    for level, words in (("none", "missing"), ("low", "too low"), ("high", "too high")):
        names = [name for name, each in found.items() if each == level]
        if names:
            verb = "is" if len(names) == 1 else "are"
            why = "the supply is weak or failing, or overloaded"
            if level == "high":  # a load pulls a voltage down, never up
                why = "the supply is failing; stop, unplug: too much voltage destroys parts"
            yield Sentence(SentenceSeverity.BAD, f"{' and '.join(names)} {verb} {words} while it runs: {why}.")
    for name in (name for name, each in found.items() if each == "disputed"):
        yield Sentence(
            SentenceSeverity.CHECK, f"The guides disagree on {name}: look how old the supply is, and choose with --guide."
        )
    if found and set(found.values()) == {"in-range"}:
        missing = [name for name in board_rails if name not in found]
        more = f" Not measured: {', '.join(missing)}." if missing else ""
        yield Sentence(SentenceSeverity.GOOD, f"{', '.join(found)}: within limits while it runs.{more}")


def _power_good_sentences(state: SupplyState) -> Iterator[Sentence]:
    signal = state.power_good_signal
    if signal is None or not state.power_good or state.dead:
        return
    if set(state.power_good) == {"high"}:
        yield Sentence(SentenceSeverity.GOOD, f"{signal.name} is high: the supply says that its voltages are good.")
    elif state.bad_rail:
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
        severity = (
            (SentenceSeverity.GOOD, SentenceSeverity.CHECK)[place] if place < 2 < len(report.cell.bands) else SentenceSeverity.BAD
        )
        yield Sentence(severity, f"Coin cell: {words[0].lower()}{words[1:]}.")
    for judged in report.trusted:
        if judged.reading.measurand.kind is MeasurandKind.TIME and judged.bad:
            yield Sentence(
                SentenceSeverity.BAD, f"{judged.reading.name} is outside what every guide allows: the supply is slow or failing."
            )
    measured = any(j.reading.measurand.kind in (MeasurandKind.RAIL, MeasurandKind.SIGNAL) for j in report.trusted)
    standby = any(report.of(name) for name in supply.standby_rails(report))
    if measured and not standby and report.state is not PowerState.RUNNING:
        yield Sentence(
            SentenceSeverity.CHECK,
            f"Measure {', '.join(sorted(supply.standby_rails(report)))} first: without it nothing else can come up.",
        )


def _note_sentences(report: MeasurementReport, state: SupplyState) -> Iterator[Sentence]:
    unsettled = [
        j.reading.name for j in report.trusted if j.reading.power_state is PowerState.NOT_SAID and Grade.UNSETTLED in _grades(j)
    ]
    if unsettled:
        names = ", ".join(dict.fromkeys(unsettled))
        yield Sentence(
            SentenceSeverity.CHECK,
            f"{names}: say how the machine was with --state; not there is right in standby and wrong while it runs.",
        )
    for judged in report.trusted:
        if judged.rulings and all(" over " in ruling.ripple for ruling in judged.rulings):
            yield Sentence(SentenceSeverity.BAD, f"{judged.reading.name} has too much ripple: the supply is worn or overloaded.")
    if report.alone or {"low", "high"} & set(state.main_rails.values()):
        yield Sentence(SentenceSeverity.NOTE, LOAD_WORDS)
    if any(judged.reading.ripple is not None for judged in report.judged):
        yield Sentence(SentenceSeverity.NOTE, RIPPLE_WORDS)
    whats = {time.name: time.what for guide in report.guides for time in guide.times}
    for name in dict.fromkeys(j.reading.name for j in report.judged if j.reading.measurand.kind is MeasurandKind.TIME):
        yield Sentence(SentenceSeverity.NOTE, f"{name}: {whats.get(name, '')}.")
    for guide in report.guides:
        told = dict.fromkeys(r.note for j in report.trusted for r in j.rulings if r.guide == guide.id and r.note and r.bad)
        yield from (Sentence(SentenceSeverity.NOTE, f"{guide.short}: {note}.") for note in told)


def _grades(judged: JudgedReading) -> set[Grade]:
    return {ruling.grade for ruling in judged.rulings}
