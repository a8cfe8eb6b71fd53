"""`nopost rails`: judge what a meter shows, by the limits of the published guides."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from nopost.errors import ReadingError
from nopost.files import open_plain
from nopost.knowledge.model import Knowledge
from nopost.meter.csv_file import MAX_BYTES, read_csv
from nopost.meter.names import Names, names_of
from nopost.meter.parse import parse
from nopost.meter.reading import Reading, State
from nopost.meter.report import guides_of, make_report
from nopost_cli import rails_screen
from nopost_cli.guided import need_terminal
from nopost_cli.options import json_option, kb_option, knowledge_of

STATES = [state.value for state in State if state]


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
@click.option("--state", type=click.Choice(STATES), help="How the machine was; default: taken from the readings.")
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
    knowledge = knowledge_of(kb)
    guides = guides_of(knowledge.limits, guide)
    names = names_of((*guides, *(each for each in knowledge.limits.values() if not each.is_guide)))
    told = [*_typed(readings, names), *(_from_file(file, names) if file else [])]
    asked = not (told or file or readings)
    if asked:
        told = _asked(knowledge, guide, state, as_json)
    if not told:
        raise ReadingError("there is no reading to judge")
    report = make_report(told, knowledge.limits, guide, State(state or ""), alone)
    rails_screen.show(knowledge, report, kb, as_json, cautioned=asked and not as_json)


def _typed(words: tuple[str, ...], names: Names) -> list[Reading]:
    for word in words:
        if word.startswith("--"):
            raise click.NoSuchOption(word.partition("=")[0])
    return parse(" ".join(words), names)


def _from_file(file: str, names: Names) -> list[Reading]:
    if file == "-":
        data = sys.stdin.buffer.read(MAX_BYTES + 1) if sys.stdin is not None else b""
        return read_csv(data, names, "standard input")
    try:
        with open_plain(file) as stream:
            data = stream.read(MAX_BYTES + 1)
    except OSError as error:
        raise ReadingError(f"{file}: cannot be read: {error.strerror}") from None
    return read_csv(data, names, file)


def _asked(knowledge: Knowledge, guide: str, state: str | None, as_json: bool) -> list[Reading]:
    need_terminal("name readings, such as 12V=11.3 5VSB=5.05, or use --file")
    from nopost_cli.rails_questions import asked_readings

    if not as_json:
        rails_screen.show_cautions(knowledge)
    return asked_readings(knowledge, guide, State(state or ""))
