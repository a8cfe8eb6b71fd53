"""What `nopost rails` asks at a terminal: one contact after the other, with where to put the tip."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace

import click
from rich.text import Text

from nopost.errors import ReadingError
from nopost.knowledge.model import Cell, Knowledge, Limits
from nopost.meter.doubt import doubt
from nopost.meter.judge import number
from nopost.meter.parse import reading
from nopost.meter.reading import Kind, Reading, State, Target
from nopost.meter.report import cell_of, guides_of
from nopost.meter.states import is_gone
from nopost_cli.guided import ask, confirm
from nopost_cli.terminal import clean, make_console

PHASES = {
    State.STANDBY: "Mains on, machine off.",
    State.PRESSED: "Let a second person press the button while the tip is on the contact.",
    State.RUNNING: "Now while it runs. If it does not come on at all, press Enter at each.",
    State.OFF: "Mains lead out, button pressed once.",
}
_TYPED = re.compile(r"(.*\d[.,]?)\s*([A-Za-z]*)")


def asked_readings(knowledge: Knowledge, guide: str, state: State) -> list[Reading]:
    """What the person reads off the meter; of a live machine only who has done that before is asked.

    Ctrl-C ends the questions; it raises click.Abort when nothing was read yet.
    """
    guides, cell = guides_of(knowledge.limits, guide), cell_of(knowledge.limits)
    found: list[Reading] = []
    try:
        for reading_ in _asked(guides, cell, state):
            found.append(reading_)
    except (click.Abort, KeyboardInterrupt):
        if not found:
            raise
        _tell("\nStopped. What was read so far is judged.")
    return found


def _asked(guides: tuple[Limits, ...], cell: Cell | None, state: State) -> Iterator[Reading]:
    _tell("Meter on DC volts, 20 V range. Black tip on a black wire, red tip into the back of the plug, from the wire side.")
    if _may_measure():
        for phase in [state] if state else [State.STANDBY, State.PRESSED, State.RUNNING]:
            _tell(f"\n{PHASES[phase]} Enter: not measured.")
            told = []
            for one in _phase(phase, guides, cell):
                told.append(one)
                yield one
            if phase is State.STANDBY and _no_standby(told, guides):
                _tell("Standby is missing, so the other rails need not be measured.")
                break
    else:
        _tell("Then leave the live machine alone, or ask someone who has. Only the coin cell is asked, with the mains lead out.")
    if cell and not state:
        _tell("\nSwitch off, pull the mains lead, wait a minute. Enter: not measured.")
        yield from _one(Target(Kind.CELL, cell.name), State.OFF, cell.probe, guides, cell)


def _may_measure() -> bool:
    _tell("Have you measured a live machine before, and read the cautions above?")
    return confirm("Go on", default=False)


def _phase(phase: State, guides: tuple[Limits, ...], cell: Cell | None) -> Iterator[Reading]:
    for target, question in _questions(phase, guides[0]):
        yield from _one(target, phase, question, guides, cell)


def _questions(phase: State, guide: Limits) -> Iterator[tuple[Target, str]]:
    """Rails and signals that tell something in this state, with their contact."""
    for rail in guide.rails:
        if phase is State.OFF or (rail.standby if phase is State.STANDBY else phase is State.RUNNING and not rail.standby):
            told = f"about {number(rail.nominal)} V" if phase is not State.OFF else "nothing"
            yield Target(Kind.RAIL, rail.name), f"{rail.probe or 'its contact'}: {told}"
    for signal in guide.signals:
        asks = signal.running == "low"
        if phase is not State.OFF and asks == (phase is not State.RUNNING):
            bounds = {"low": f"up to {number(signal.low[1])} V", "high": f"{number(signal.high[0])} V or more"}
            told = bounds[signal.idle if phase is State.STANDBY else signal.running]
            yield Target(Kind.SIGNAL, signal.name), f"{signal.probe or 'its contact'}: {told}"


def _one(target: Target, state: State, question: str, guides: tuple[Limits, ...], cell: Cell | None) -> Iterator[Reading]:
    """One reading, asked a second time when no supply gives it; none when Enter is pressed."""
    _tell(f"{target.name}: {question}")
    found = _ask(target, f"  {target.name}")
    if found is not None and (why := doubt(found, guides, cell)):
        _tell(f"  Check this reading: {why}.")
        found = _ask(target, f"  {target.name} once more")
    if found is not None:
        yield replace(found, state=state)


def _tell(text: str) -> None:
    """Text to the person, wrapped between words."""
    make_console(stderr=True).print(Text(clean(text)))


def _ask(target: Target, question: str) -> Reading | None:
    typed = ask(question, check=lambda text: _wrong(target, text))
    return _reading(target, typed) if typed else None


def _reading(target: Target, typed: str) -> Reading:
    found = _TYPED.fullmatch(typed)
    return reading(target, found[1] if found else typed, found[2] if found else "", wrote=typed)


def _wrong(target: Target, typed: str) -> str:
    try:
        if typed:
            _reading(target, typed)
    except ReadingError as error:
        return f"{error}."
    return ""


def _no_standby(found: Iterable[Reading], guides: tuple[Limits, ...]) -> bool:
    rails = {rail.name: rail for rail in guides[0].rails if rail.standby}
    return any(is_gone(rails[r.name], r.value) for r in found if r.name in rails)
