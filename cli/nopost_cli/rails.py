"""`nopost rails`: judge what a meter shows, by the limits of the published guides.

Readings are given, read from a table, or asked one contact after the other, with where to put the tip. Shown are the
cautions, the readings beside each guide, what they mean, and how to go on.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nopost.errors import ReadingError
from nopost_cli.shared.options import json_option, kb_option, knowledge_of
from nopost_cli.shared.prompts import ask, confirm, need_terminal
from nopost_cli.shared.terminal import clean, make_console, print_json, read_bytes, shown_name

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.text import Text

    from nopost.knowledge.meter_limits import CoinCell, Limits
    from nopost.knowledge.model import Hazard, Knowledge
    from nopost.meter.reading import Measurand, MeasurandNames, MeterReading, PowerState
    from nopost.meter.supply import JudgedReading, MeasurementReport

PHASES = {
    "standby": "Mains on, machine off.",
    "pressed": "Let a second person press the button while the tip is on the contact.",
    "running": "Now while it runs. If it does not come on at all, press Enter at each.",
    "off": "Mains lead out, button pressed once.",
}
"""PowerState -> what to do before its readings."""
LOCAL = "Local codes and licensed practice come first; this is no substitute for them."
LABELS = {"bad": ("Wrong", "bold red"), "check": ("Check", "yellow"), "note": ("Note", ""), "good": ("Good", "green")}
"""SentenceSeverity -> word before the sentence, and its style."""
STYLES = {"within": "green", "rightly-off": "green", "unsettled": "yellow", "no-limit": "dim"}
"""Grade -> its style; the others are bold and red."""
_TYPED = re.compile(r"(.*\d[.,]?)\s*([A-Za-z]*)")


def asked_readings(knowledge: Knowledge, guide: str, state: PowerState) -> list[MeterReading]:
    """What the person reads off the meter; of a live machine only who has done that before is asked.

    Ctrl-C ends the questions; it raises click.Abort when nothing was read yet.
    """
    from nopost.meter.supply import cell_of, guides_of

    guides, cell = guides_of(knowledge.limits, guide), cell_of(knowledge.limits)
    found: list[MeterReading] = []
    try:
        for reading_ in _asked_phases(guides, cell, state):
            found.append(reading_)
    except (click.Abort, KeyboardInterrupt):
        if not found:
            raise
        _tell("\nStopped. What was read so far is judged.")
    return found


def _asked_phases(guides: tuple[Limits, ...], cell: CoinCell | None, state: PowerState) -> Iterator[MeterReading]:
    from nopost.meter.reading import Measurand, MeasurandKind, PowerState

    _tell("Meter on DC volts, 20 V range. Black tip on a black wire, red tip into the back of the plug, from the wire side.")
    if _may_measure():
        for phase in [state] if state else [PowerState.STANDBY, PowerState.PRESSED, PowerState.RUNNING]:
            _tell(f"\n{PHASES[phase]} Enter: not measured.")
            told = []
            for measurand, question in _questions(phase, guides[0]):
                for one in _one(measurand, phase, question, guides, cell):
                    told.append(one)
                    yield one
            if phase is PowerState.STANDBY and _no_standby(told, guides):
                _tell("Standby is missing, so the other rails need not be measured.")
                break
    else:
        _tell("Then leave the live machine alone, or ask someone who has. Only the coin cell is asked, with the mains lead out.")
    if cell and not state:
        _tell("\nSwitch off, pull the mains lead, wait a minute. Enter: not measured.")
        yield from _one(Measurand(MeasurandKind.CELL, cell.name), PowerState.OFF, cell.probe, guides, cell)


def _may_measure() -> bool:
    _tell("Have you measured a live machine before, and read the cautions above?")
    return confirm("Go on", default=False)


def _questions(phase: PowerState, guide: Limits) -> Iterator[tuple[Measurand, str]]:
    """Rails and signals that tell something in this state, with their contact."""
    from nopost.meter.limit_check import plain_number
    from nopost.meter.reading import Measurand, MeasurandKind, PowerState

    for rail in guide.rails:
        if phase is PowerState.OFF or (
            rail.standby if phase is PowerState.STANDBY else phase is PowerState.RUNNING and not rail.standby
        ):
            told = f"about {plain_number(rail.nominal)} V" if phase is not PowerState.OFF else "nothing"
            yield Measurand(MeasurandKind.RAIL, rail.name), f"{rail.probe or 'its contact'}: {told}"
    for signal in guide.signals:
        asks = signal.running == "low"
        if phase is not PowerState.OFF and asks == (phase is not PowerState.RUNNING):
            bounds = {"low": f"up to {plain_number(signal.low[1])} V", "high": f"{plain_number(signal.high[0])} V or more"}
            told = bounds[signal.idle if phase is PowerState.STANDBY else signal.running]
            yield Measurand(MeasurandKind.SIGNAL, signal.name), f"{signal.probe or 'its contact'}: {told}"


def _one(
    measurand: Measurand, state: PowerState, question: str, guides: tuple[Limits, ...], cell: CoinCell | None
) -> Iterator[MeterReading]:
    """One reading, asked a second time when no supply gives it; none when Enter is pressed."""
    from nopost.meter.limit_check import doubt

    _tell(f"{measurand.name}: {question}")
    found = _ask(measurand, f"  {measurand.name}")
    if found is not None and (why := doubt(found, guides, cell)):
        _tell(f"  Check this reading: {why}.")
        found = _ask(measurand, f"  {measurand.name} once more")
    if found is not None:
        yield replace(found, power_state=state)


def _tell(text: str) -> None:
    """Text to the person, wrapped between words."""
    from rich.text import Text

    make_console(stderr=True).print(Text(clean(text)))


def _ask(measurand: Measurand, question: str) -> MeterReading | None:
    typed = ask(question, check=lambda text: _wrong(measurand, text))
    return _reading(measurand, typed) if typed else None


def _reading(measurand: Measurand, typed: str) -> MeterReading:
    from nopost.meter.parse_readings import make_reading

    found = _TYPED.fullmatch(typed)
    return make_reading(measurand, found[1] if found else typed, found[2] if found else "", wrote=typed)


def _wrong(measurand: Measurand, typed: str) -> str:
    try:
        if typed:
            _reading(measurand, typed)
    except ReadingError as error:
        return f"{error}."
    return ""


def _no_standby(found: Iterable[MeterReading], guides: tuple[Limits, ...]) -> bool:
    from nopost.meter.reading import is_missing

    rails = {rail.name: rail for rail in guides[0].rails if rail.standby}
    return any(is_missing(rails[r.name], r.value) for r in found if r.name in rails)


def show_report(knowledge: Knowledge, report: MeasurementReport, kb: Path | None, as_json: bool, *, cautioned: bool) -> None:
    """The judgement; the cautions come first unless they were shown before the questions."""
    from rich.text import Text

    from nopost.meter.interpretation import answers, sentences
    from nopost.meter.reading import MeasurandKind
    from nopost_cli.shared.screens import line

    found = answers(report, knowledge.base.roles)
    if as_json:
        print_json("rails", _data(knowledge, report, found, kb))
        return
    console = make_console()
    if not cautioned:
        cell = any(judged.reading.measurand.kind is MeasurandKind.CELL for judged in report.judged)
        show_cautions(knowledge, console, cell=cell)
    else:
        console.print()
    console.print(_table(report))
    console.print()
    for judged in report.doubted:
        reading = judged.reading
        text = (
            f"{reading.name} = {_value(reading)}{f' ({reading.at})' if reading.at else ''}: check this reading: {judged.doubt}."
        )
        console.print(line("Check", text.replace("?.", "?").replace("..", "."), "yellow"))
    for sentence in sentences(report):
        label, style = LABELS[sentence.severity]
        console.print(line(label, sentence.text, style))
    console.print(Text("\nGo on with a diagnosis" if found else "\nNo answer for a diagnosis follows from this.", style="bold"))
    if found:
        console.print(Text(_command(found, kb, " \\\n    ")))


def show_cautions(knowledge: Knowledge, console: Console | None = None, *, cell: bool = True) -> None:
    """What can hurt while measuring, of the cell only when there is one."""
    from rich.text import Text

    console = console or make_console()
    for hazard in _hazards(knowledge, cell):
        console.print(Text(f"CAUTION: {clean(hazard.title)}", style="bold"))
        console.print(Text(clean(hazard.caution)))
    console.print(Text(f"{LOCAL}\n", style="bold"))


def _hazards(knowledge: Knowledge, cell: bool) -> list[Hazard]:
    from nopost.knowledge.roles import MEASURING, MEASURING_CELL

    named = knowledge.base.roles.hazards
    return [knowledge.hazards[name] for role in (MEASURING, *([MEASURING_CELL] if cell else [])) for name in named.get(role, ())]


def _table(report: MeasurementReport) -> RenderableType:
    """A row for each reading, a column for each guide."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, padding=(0, 1, 0, 0), expand=False)
    table.add_column("Measured", no_wrap=True)
    table.add_column("Reading", justify="right", no_wrap=True)
    for guide in report.guides:
        table.add_column(clean(guide.short), max_width=40)
    for judged in report.judged:
        table.add_row(_name(judged.reading), Text(_value(judged.reading)), *_cells(judged, report))
    return table


def _name(reading: MeterReading) -> Text:
    """The name, and below it the state it was measured in."""
    from rich.text import Text

    from nopost.meter.reading import MeasurandKind, PowerState

    name = Text(clean(reading.name))
    if reading.power_state in (PowerState.PRESSED, PowerState.OFF) and reading.measurand.kind in (
        MeasurandKind.RAIL,
        MeasurandKind.SIGNAL,
    ):
        name.append(f"\n {reading.power_state.value}", style="dim")
    return name


def _cells(judged: JudgedReading, report: MeasurementReport) -> list[Text]:
    from rich.text import Text

    from nopost.meter.limit_check import band_of
    from nopost.meter.reading import MeasurandKind

    if judged.doubt:
        return [Text("check it", style="yellow") for _ in report.guides]
    if judged.reading.measurand.kind is MeasurandKind.CELL:
        words = band_of(report.cell, judged.reading.value)[1] if report.cell else ""
        return [Text(words), *(Text("") for _ in report.guides[1:])]
    cells = []
    for ruling in judged.rulings:
        cell = Text(clean(ruling.text), style=STYLES.get(ruling.grade, "bold red"))
        if ruling.ripple:
            cell.append(f"\n{ruling.ripple}", style="bold red" if " over " in ruling.ripple else "green")
        cells.append(cell)
    return cells


def _value(reading: MeterReading) -> str:
    from nopost.meter.limit_check import plain_number
    from nopost.meter.reading import MeasurandKind

    return f"{plain_number(reading.value)} {'ms' if reading.measurand.kind is MeasurandKind.TIME else 'V'}"


def _command(found: dict[str, str], kb: Path | None, joint: str) -> str:
    """The line that goes on with these answers."""
    parts = [f"--answer {name}={answer}" for name, answer in found.items()]
    begin = "nopost diagnose --ask" + (f" --kb {shlex.quote(str(kb))}" if kb else "")
    return clean(joint.join([begin, *parts])) if joint.isspace() else joint.join([clean(begin), *map(clean, parts)])


def _data(knowledge: Knowledge, report: MeasurementReport, found: dict[str, str], kb: Path | None) -> dict[str, Any]:
    from nopost.meter.interpretation import sentences

    return {
        "guides": [{"id": guide.id, "title": guide.title} for guide in report.guides],
        "state": report.state.value or None,
        "state_taken": report.state_inferred,
        "alone": report.alone,
        "cautions": [{"id": h.id, "title": h.title, "caution": h.caution} for h in _hazards(knowledge, True)],
        "readings": [_reading_data(judged, report) for judged in report.judged],
        "verdict": [{"weight": sentence.severity.value, "text": sentence.text} for sentence in sentences(report)],
        "answers": found,
        "command": _command(found, kb, " ") if found else None,
    }


def _reading_data(judged: JudgedReading, report: MeasurementReport) -> dict[str, Any]:
    from nopost.meter.limit_check import band_of
    from nopost.meter.reading import POWER_STATE_WORDS, MeasurandKind

    reading = judged.reading
    band = band_of(report.cell, reading.value)[0] if report.cell and reading.measurand.kind is MeasurandKind.CELL else None
    return {
        "name": reading.name,
        "kind": reading.measurand.kind.value,
        "value": reading.value,
        "unit": "ms" if reading.measurand.kind is MeasurandKind.TIME else "V",
        "state": reading.power_state.value or None,
        "state_words": POWER_STATE_WORDS[reading.power_state],
        "ripple_mv": reading.ripple,
        "wrote": reading.wrote,
        "at": reading.at or None,
        "check": judged.doubt or None,
        "band": band,
        "rulings": [
            {
                "guide": r.guide,
                "grade": r.grade.value,
                "by": round(r.by, 4),
                "text": r.text,
                "note": r.note or None,
                "ripple": r.ripple or None,
            }
            for r in judged.rulings
        ],
    }


@click.command(
    "rails",
    short_help="Judge voltages and signals read with a meter.",
    context_settings={"ignore_unknown_options": True},  # -12V=-11.8 is a reading
)
@click.argument("readings", nargs=-1, type=click.UNPROCESSED)
@click.option("--file", "file", metavar="CSV|-", default="", help="Readings from a CSV table; - is standard input.")
@click.option(
    "--guide", metavar="ID|both", default="both", help="Judge by one guide only, such as atx-2-0 for a supply of before 2020."
)
@click.option(
    "--state",
    type=click.Choice(["off", "standby", "pressed", "running"]),
    help="How the machine was; default: taken from the readings.",
)
@click.option("--alone", is_flag=True, help="The supply is tested by itself, off the board.")
@json_option
@kb_option
def command(
    readings: tuple[str, ...], file: str, guide: str, state: str | None, alone: bool, as_json: bool, kb: Path | None
) -> None:
    """Judge READINGS such as 12V=11.3 5VSB=5.05 PS_ON=0.2 PWR_OK=4.8 cell=2.71 by the power supply design guides.

    Usual writings do: "12 V 11,3", 3V3: 3.28V, "pin 9 = 5.05" (of the wide board plug), "purple 5.05", 5020mV. A state of its own
    follows the name: PS_ON@pressed=0.2. Times: PWR_OK delay=320ms; ripple: "12V=11.9 ripple 40mV". A CSV table has the columns
    name (or pin) and volts, and if you like state, ripple (mV) and time (ms). Without readings it asks, one after the other.
    """
    from nopost.meter.reading import PowerState, names_of
    from nopost.meter.supply import guides_of, make_report

    knowledge = knowledge_of(kb)
    guides = guides_of(knowledge.limits, guide)
    names = names_of((*guides, *(each for each in knowledge.limits.values() if not each.is_guide)))
    told = [*_typed(readings, names), *(_from_file(file, names) if file else [])]
    asked = not (told or file or readings)
    if asked:
        told = _ask_readings(knowledge, guide, state, as_json)
    if not told:
        raise ReadingError("there is no reading to judge")
    report = make_report(told, knowledge.limits, guide, PowerState(state or ""), alone)
    show_report(knowledge, report, kb, as_json, cautioned=asked and not as_json)


def _typed(words: tuple[str, ...], names: MeasurandNames) -> list[MeterReading]:
    from nopost.meter.parse_readings import parse_text

    for word in words:
        if word.startswith("--"):
            raise click.NoSuchOption(word.partition("=")[0])
    return parse_text(" ".join(words), names)


def _from_file(file: str, names: MeasurandNames) -> list[MeterReading]:
    from nopost.meter.parse_readings import MAX_BYTES, read_csv

    return read_csv(read_bytes(file, MAX_BYTES + 1), names, shown_name(file))


def _ask_readings(knowledge: Knowledge, guide: str, state: str | None, as_json: bool) -> list[MeterReading]:
    from nopost.meter.reading import PowerState

    need_terminal("name readings, such as 12V=11.3 5VSB=5.05, or use --file")
    if not as_json:
        show_cautions(knowledge)
    return asked_readings(knowledge, guide, PowerState(state or ""))
