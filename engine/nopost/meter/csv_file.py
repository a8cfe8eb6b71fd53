"""Readings from a CSV table: a column that says what was measured, one with volts, and if there are, state, ripple and time."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping

from nopost.errors import ReadingError
from nopost.meter.names import Names
from nopost.meter.parse import NUMBER, reading, ripple_of, unknown_name
from nopost.meter.reading import Kind, Reading, State, Target

MAX_BYTES = 1 << 20
COLUMNS = {
    "name": ("name", "rail", "signal", "what", "wire", "colour", "color"),
    "pin": ("pin", "contact"),
    "volts": ("volts", "volt", "v", "voltage", "value", "reading", "mv", "millivolts"),
    "state": ("state",),
    "ripple": ("ripple", "ripple mv"),
    "time": ("time", "time ms", "ms"),
}
"""Column -> the headings that it can have."""
_CELL = re.compile(rf"(?P<number>{NUMBER})\s*(?P<unit>[A-Za-z]*)")


def read_csv(data: bytes, names: Names, file: str) -> list[Reading]:
    """All readings of a table. Empty cells are readings that were not taken. Raises ReadingError with file and line."""
    if len(data) > MAX_BYTES:
        raise ReadingError(f"{file}: larger than 1 MiB; a table of readings is small")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ReadingError(f"{file}: not UTF-8 text; save it as CSV in UTF-8") from None
    if "\0" in text:
        raise ReadingError(f"{file}: not a text file; save the table as CSV")
    found = list(_rows(text, names, file))
    if not found:
        raise ReadingError(f"{file}: no reading in it; write name,volts in the first line and one reading on each line below")
    return found


def _rows(text: str, names: Names, file: str) -> Iterator[Reading]:
    first = next((line for line in text.splitlines() if line.strip() and not line.startswith("#")), "")
    delimiter = max(";\t,", key=first.count) if any(sign in first for sign in ";\t,") else ","
    rows = csv.reader(io.StringIO(text), delimiter=delimiter)
    columns: Mapping[str, tuple[int, str]] | None = None
    try:
        for row in rows:
            at = f"{file}:{rows.line_num}"
            if not any(cell.strip() for cell in row) or row[0].startswith("#"):
                continue
            if columns is None:
                columns = _columns(row, at)
                continue
            yield from _row(
                {key: (row[i].strip() if i < len(row) else "", head) for key, (i, head) in columns.items()}, names, at
            )
    except csv.Error as error:
        raise ReadingError(f"{file}:{rows.line_num}: not a CSV table: {error}") from None


def _columns(row: list[str], at: str) -> Mapping[str, tuple[int, str]]:
    """Column -> its place and its heading."""
    heads = [re.sub(r"[\s_()]+", " ", cell).strip().casefold() for cell in row]
    found = {key: (heads.index(head), head) for key, known in COLUMNS.items() for head in reversed(known) if head in heads}
    if "volts" not in found or not {"name", "pin"} & set(found):
        raise ReadingError(f"{at}: the first line names the columns: name (or pin) and volts; also state, ripple and time (ms)")
    return found


def _row(cells: Mapping[str, tuple[str, str]], names: Names, at: str) -> Iterator[Reading]:
    written, state = _name(cells), _state(cells, at)
    volts, time, ripple = (cells.get(key, ("", ""))[0] for key in ("volts", "time", "ripple"))
    if not (volts or time or ripple):
        return
    target = names.find(written)
    if target is None:
        raise unknown_name(written, names, at)
    if volts:
        number, unit = _number(volts, at)
        default = "mV" if cells["volts"][1] in ("mv", "millivolts") and target.kind is not Kind.TIME else ""
        made = reading(target, number, unit or default, at=at)
        yield Reading(target, made.value, state, ripple_of(*_number(ripple, at, "mV")) if ripple else None, made.wrote, at)
    elif ripple:
        raise ReadingError(f"{at}: ripple without volts; give both")
    if time:
        yield _time(target, time, names, at)


def _time(target: Target, text: str, names: Names, at: str) -> Reading:
    times = {time.name: time for limits in names.limits for time in limits.times if target.name in time.of}
    if not times:
        raise ReadingError(f"{at}: no guide states a time for {target.name}; leave the column empty")
    number, unit = _number(text, at)
    return reading(Target(Kind.TIME, next(iter(times))), number, unit, at=at)


def _name(cells: Mapping[str, tuple[str, str]]) -> str:
    """What was measured: the name, or else the contact."""
    name, pin = (cells.get(key, ("", ""))[0] for key in ("name", "pin"))
    return name or (f"pin {pin}" if pin.isdecimal() else pin)


def _state(cells: Mapping[str, tuple[str, str]], at: str) -> State:
    text = cells.get("state", ("", ""))[0].casefold()
    try:
        return State(text)
    except ValueError:
        states = ", ".join(state.value for state in State if state)
        raise ReadingError(f"{at}: there is no state {text[:30]!r}; write one of {states}") from None


def _number(text: str, at: str, unit: str = "") -> tuple[str, str]:
    found = _CELL.fullmatch(text)
    if found is None:
        raise ReadingError(f"{at}: {text[:30]!r} is no number; write a number such as 11.3")
    return found["number"], found["unit"] or unit
