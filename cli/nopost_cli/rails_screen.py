"""What `nopost rails` shows: cautions, the readings beside each guide, what they mean, and how to go on."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Any

from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from nopost.knowledge.model import Hazard, Knowledge
from nopost.meter.answers import answers
from nopost.meter.judge import Grade, band_of, number
from nopost.meter.reading import STATE_WORDS, Kind, Reading, State
from nopost.meter.report import Judged, Report
from nopost.meter.verdict import Weight, sentences
from nopost_cli.envelope import print_json
from nopost_cli.screens import line
from nopost_cli.terminal import clean, make_console

HAZARDS, CELL_HAZARD = ("live-test", "never-open-supply", "mains-wiring"), "coin-cell"
"""What can hurt while measuring, in the order of the screen; those that the knowledge base has."""
LOCAL = "Local codes and licensed practice come first; this is no substitute for them."
LABELS = {
    Weight.BAD: ("Wrong", "bold red"),
    Weight.CHECK: ("Check", "yellow"),
    Weight.NOTE: ("Note", ""),
    Weight.GOOD: ("Good", "green"),
}
STYLES = {Grade.WITHIN: "green", Grade.RIGHTLY_OFF: "green", Grade.UNSETTLED: "yellow", Grade.NO_LIMIT: "dim"}


def show(knowledge: Knowledge, report: Report, kb: Path | None, as_json: bool, *, cautioned: bool) -> None:
    """The judgement; the cautions come first unless they were shown before the questions."""
    found = answers(report, knowledge.findings)
    if as_json:
        print_json("rails", _data(knowledge, report, found, kb))
        return
    console = make_console()
    if not cautioned:
        cell = any(judged.reading.target.kind is Kind.CELL for judged in report.judged)
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
        label, style = LABELS[sentence.weight]
        console.print(line(label, sentence.text, style))
    console.print(Text("\nGo on with a diagnosis" if found else "\nNo answer for a diagnosis follows from this.", style="bold"))
    if found:
        console.print(Text(_command(found, kb, " \\\n    ")))


def show_cautions(knowledge: Knowledge, console: Console | None = None, *, cell: bool = True) -> None:
    """What can hurt while measuring, of the cell only when there is one."""
    console = console or make_console()
    for hazard in _hazards(knowledge, cell):
        console.print(Text(f"CAUTION: {clean(hazard.title)}", style="bold"))
        console.print(Text(clean(hazard.caution)))
    console.print(Text(f"{LOCAL}\n", style="bold"))


def _hazards(knowledge: Knowledge, cell: bool) -> list[Hazard]:
    wanted = (*HAZARDS, *([CELL_HAZARD] if cell else []))
    return [knowledge.hazards[name] for name in wanted if name in knowledge.hazards]


def _table(report: Report) -> RenderableType:
    """A row for each reading, a column for each guide."""
    table = Table(box=None, padding=(0, 1, 0, 0), expand=False)
    table.add_column("Measured", no_wrap=True)
    table.add_column("Reading", justify="right", no_wrap=True)
    for guide in report.guides:
        table.add_column(clean(guide.short), max_width=40)
    for judged in report.judged:
        table.add_row(_name(judged.reading), Text(_value(judged.reading)), *_cells(judged, report))
    return table


def _name(reading: Reading) -> Text:
    """The name, and below it the state it was measured in."""
    name = Text(clean(reading.name))
    if reading.state in (State.PRESSED, State.OFF) and reading.target.kind in (Kind.RAIL, Kind.SIGNAL):
        name.append(f"\n {reading.state.value}", style="dim")
    return name


def _cells(judged: Judged, report: Report) -> list[Text]:
    if judged.doubt:
        return [Text("check it", style="yellow") for _ in report.guides]
    if judged.reading.target.kind is Kind.CELL:
        words = band_of(report.cell, judged.reading.value)[1] if report.cell else ""
        return [Text(words), *(Text("") for _ in report.guides[1:])]
    cells = []
    for ruling in judged.rulings:
        cell = Text(clean(ruling.text), style=STYLES.get(ruling.grade, "bold red"))
        if ruling.ripple:
            cell.append(f"\n{ruling.ripple}", style="bold red" if " over " in ruling.ripple else "green")
        cells.append(cell)
    return cells


def _value(reading: Reading) -> str:
    return f"{number(reading.value)} {'ms' if reading.target.kind is Kind.TIME else 'V'}"


def _command(found: dict[str, str], kb: Path | None, joint: str) -> str:
    """The line that goes on with these answers."""
    parts = [f"--answer {name}={answer}" for name, answer in found.items()]
    begin = "nopost diagnose --ask" + (f" --kb {shlex.quote(str(kb))}" if kb else "")
    return clean(joint.join([begin, *parts])) if joint.isspace() else joint.join([clean(begin), *map(clean, parts)])


def _data(knowledge: Knowledge, report: Report, found: dict[str, str], kb: Path | None) -> dict[str, Any]:
    return {
        "guides": [{"id": guide.id, "title": guide.title} for guide in report.guides],
        "state": report.state.value or None,
        "state_taken": report.taken,
        "alone": report.alone,
        "cautions": [{"id": h.id, "title": h.title, "caution": h.caution} for h in _hazards(knowledge, True)],
        "readings": [_reading_data(judged, report) for judged in report.judged],
        "verdict": [{"weight": sentence.weight.value, "text": sentence.text} for sentence in sentences(report)],
        "answers": found,
        "command": _command(found, kb, " ") if found else None,
    }


def _reading_data(judged: Judged, report: Report) -> dict[str, Any]:
    reading = judged.reading
    band = band_of(report.cell, reading.value)[0] if report.cell and reading.target.kind is Kind.CELL else None
    return {
        "name": reading.name,
        "kind": reading.target.kind.value,
        "value": reading.value,
        "unit": "ms" if reading.target.kind is Kind.TIME else "V",
        "state": reading.state.value or None,
        "state_words": STATE_WORDS[reading.state],
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
