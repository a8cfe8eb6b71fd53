"""Readings as people write them: in typed text, or in a CSV table.

Typed text: `12V=11.3 5 V 5,02 pin 9 = 5.05 PS_ON@pressed=0.2 PWR_OK delay 320 ms cell=2710mV`. A table has a column that says
what was measured, one with volts, and if there are, state, ripple and time.
"""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Iterator, Mapping

from nopost.errors import ReadingError
from nopost.meter.reading import Measurand, MeasurandKind, MeasurandNames, MeterReading, PowerState

LONGEST_TEXT = 20_000
"""Characters of typed text; nobody types more."""
NUMBER_PATTERN = r"[-+\u2212\u2013]?(?:\d{1,7}(?:[.,]\d{1,6})?|[.,]\d{1,6})"
MILLI = 0.001
UNITS = {"v": 1.0, "volt": 1.0, "volts": 1.0, "mv": MILLI, "millivolt": MILLI, "millivolts": MILLI}
TIME_UNITS = {"ms": 1.0, "s": 1000.0, "sec": 1000.0}
_UNIT = "|".join(sorted([*UNITS, *TIME_UNITS], key=len, reverse=True))
_STATES = "|".join(state.value for state in PowerState if state)
_OVERLOAD = re.compile(r"\s*[=:]?\s*(?:0?\.?OL|overload)\b", re.IGNORECASE)


def parse_text(text: str, names: MeasurandNames, at: str = "") -> list[MeterReading]:
    """All readings of a text. Raises ReadingError for the first piece that is none."""
    if len(text) > LONGEST_TEXT:
        raise ReadingError(f"{_where(at)}longer than {LONGEST_TEXT} characters; put the readings into a CSV file and use --file")
    return list(_readings(text, names, at))


def make_reading(measurand: Measurand, number: str, unit: str = "", *, wrote: str = "", at: str = "") -> MeterReading:
    """A reading of a known measurand from its number. Raises ReadingError when number or unit is none."""
    if not re.fullmatch(NUMBER_PATTERN, number):
        raise ReadingError(f"{_where(at)}{measurand.name}: {number[:30]!r} is no number; write a number such as 11.3")
    factors, other = (TIME_UNITS, UNITS) if measurand.kind is MeasurandKind.TIME else (UNITS, TIME_UNITS)
    if unit.casefold() in other:
        what = "a time: give ms or s" if measurand.kind is MeasurandKind.TIME else "a voltage: give V or mV"
        raise ReadingError(f"{_where(at)}{measurand.name} is {what}, not {unit}")
    factor = factors.get(unit.casefold(), 1.0)
    value = value_of(number) / 1000 if factor == MILLI else value_of(number) * factor  # divided, 11400 mV are 11.4 V exactly
    return MeterReading(measurand, value, wrote=wrote or f"{measurand.name} {number} {unit}".strip(), at=at)


def value_of(number: str) -> float:
    """A number with a point or a comma, and any minus sign."""
    return float(re.sub("[\u2212\u2013]", "-", number).replace(",", "."))


def unknown_name(written: str, names: MeasurandNames, at: str = "") -> ReadingError:
    """The error for a name that is none."""
    known = names.known()
    near = difflib.get_close_matches(written.upper(), known, n=2, cutoff=0.5)
    hint = f"did you mean {' or '.join(near)}?" if near else f"known: {', '.join(known)}, pin 9, purple wire"
    return ReadingError(f"{_where(at)}{written[:40]!r} is nothing that has limits; {hint}")


def _readings(text: str, names: MeasurandNames, at: str) -> Iterator[MeterReading]:
    end_here = r"(?=$|[\s,;])"
    whole = re.compile(
        rf"{names.pattern}\s*(?:@\s*(?P<state>{_STATES})\b)?\s*(?:[=:]|is\b|->)?\s*"
        rf"(?P<number>{NUMBER_PATTERN})\s*(?:(?P<unit>{_UNIT})\b)?{end_here}"
        rf"(?:[\s,]*ripple\s*[=:]?\s*(?P<ripple>{NUMBER_PATTERN})\s*(?P<ripple_unit>mV|V)?{end_here})?",
        re.IGNORECASE,
    )
    gap = re.compile(r"[\s,;]*")
    place = 0
    while (place := _end(gap, text, place)) < len(text):
        found = whole.match(text, place)
        if found is None:
            raise _refusal(text[place:], names, at)
        yield _reading(found, names, at)
        place = found.end()


def _end(pattern: re.Pattern[str], text: str, place: int) -> int:
    found = pattern.match(text, place)
    return found.end() if found else place


def _reading(found: re.Match[str], names: MeasurandNames, at: str) -> MeterReading:
    measurand = names.find(found["name"])
    if measurand is None:
        raise ReadingError(f"{_where(at)}{found['name']!r}: no such contact; the wide board plug has 1 to 24")
    made = make_reading(measurand, found["number"], found["unit"] or "", wrote=found[0].strip(), at=at)
    ripple = ripple_of(found["ripple"], found["ripple_unit"] or "mV") if found["ripple"] else None
    state = PowerState((found["state"] or "").casefold())
    return MeterReading(made.measurand, made.value, state, ripple, made.wrote, at)


def ripple_of(number: str, unit: str = "mV") -> float:
    """Ripple in mV."""
    return abs(value_of(number)) * (1000.0 if unit.casefold() == "v" else 1.0)


def _refusal(rest: str, names: MeasurandNames, at: str) -> ReadingError:
    """Why nothing could be read here: no name, or no number after it."""
    named = re.match(rf"{names.pattern}", rest, re.IGNORECASE)
    if named is None:
        return unknown_name(re.split(r"[\s=:,;]", rest, maxsplit=1)[0] or rest[:1], names, at)
    if _OVERLOAD.match(rest, named.end()):
        return ReadingError(f"{_where(at)}{named['name']}: OL means out of the meter's range; set it to DC volts, 20 V")
    told = rest[named.end() :].strip(" =:")[:20]
    wrong = f"{told!r} is no reading" if told else "there is no reading after it"
    return ReadingError(f"{_where(at)}{named['name']}: {wrong}; write {named['name']}=11.3, in V or mV")


def _where(at: str) -> str:
    return f"{at}: " if at else ""


MAX_BYTES = 1 << 20
COLUMN_HEADINGS = {
    "name": ("name", "rail", "signal", "what", "wire", "colour", "color"),
    "pin": ("pin", "contact"),
    "volts": ("volts", "volt", "v", "voltage", "value", "reading", "mv", "millivolts"),
    "state": ("state",),
    "ripple": ("ripple", "ripple mv"),
    "time": ("time", "time ms", "ms"),
}
"""Column -> the headings that it can have."""
_CELL = re.compile(rf"(?P<number>{NUMBER_PATTERN})\s*(?P<unit>[A-Za-z]*)")


def read_csv(data: bytes, names: MeasurandNames, file: str) -> list[MeterReading]:
    """All readings of a table. Empty cells are readings that were not taken. Raises ReadingError with file and line."""
    if len(data) > MAX_BYTES:
        raise ReadingError(f"{file}: larger than 1 MiB; a table of readings is small")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ReadingError(f"{file}: not UTF-8 text; save it as CSV in UTF-8") from None
    if "\0" in text:
        raise ReadingError(f"{file}: not a text file; save the table as CSV")
    found = list(_table_rows(text, names, file))
    if not found:
        raise ReadingError(f"{file}: no reading in it; write name,volts in the first line and one reading on each line below")
    return found


def _table_rows(text: str, names: MeasurandNames, file: str) -> Iterator[MeterReading]:
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
                columns = _column_places(row, at)
                continue
            yield from _row_readings(
                {key: (row[i].strip() if i < len(row) else "", head) for key, (i, head) in columns.items()}, names, at
            )
    except csv.Error as error:
        raise ReadingError(f"{file}:{rows.line_num}: not a CSV table: {error}") from None


def _column_places(row: list[str], at: str) -> Mapping[str, tuple[int, str]]:
    """Column -> its place and its heading."""
    heads = [re.sub(r"[\s_()]+", " ", cell).strip().casefold() for cell in row]
    found = {
        key: (heads.index(head), head) for key, known in COLUMN_HEADINGS.items() for head in reversed(known) if head in heads
    }
    if "volts" not in found or not {"name", "pin"} & set(found):
        raise ReadingError(f"{at}: the first line names the columns: name (or pin) and volts; also state, ripple and time (ms)")
    return found


def _row_readings(cells: Mapping[str, tuple[str, str]], names: MeasurandNames, at: str) -> Iterator[MeterReading]:
    written, state = _written_name(cells), _cell_state(cells, at)
    volts, time, ripple = (cells.get(key, ("", ""))[0] for key in ("volts", "time", "ripple"))
    if not (volts or time or ripple):
        return
    measurand = names.find(written)
    if measurand is None:
        raise unknown_name(written, names, at)
    if volts:
        number, unit = _cell_number(volts, at)
        default = "mV" if cells["volts"][1] in ("mv", "millivolts") and measurand.kind is not MeasurandKind.TIME else ""
        made = make_reading(measurand, number, unit or default, at=at)
        yield MeterReading(
            measurand, made.value, state, ripple_of(*_cell_number(ripple, at, "mV")) if ripple else None, made.wrote, at
        )
    elif ripple:
        raise ReadingError(f"{at}: ripple without volts; give both")
    if time:
        yield _time_reading(measurand, time, names, at)


def _time_reading(measurand: Measurand, text: str, names: MeasurandNames, at: str) -> MeterReading:
    times = {time.name: time for limits in names.limits for time in limits.times if measurand.name in time.of}
    if not times:
        raise ReadingError(f"{at}: no guide states a time for {measurand.name}; leave the column empty")
    number, unit = _cell_number(text, at)
    return make_reading(Measurand(MeasurandKind.TIME, next(iter(times))), number, unit, at=at)


def _written_name(cells: Mapping[str, tuple[str, str]]) -> str:
    """What was measured: the name, or else the contact."""
    name, pin = (cells.get(key, ("", ""))[0] for key in ("name", "pin"))
    return name or (f"pin {pin}" if pin.isdecimal() else pin)


def _cell_state(cells: Mapping[str, tuple[str, str]], at: str) -> PowerState:
    text = cells.get("state", ("", ""))[0].casefold()
    try:
        return PowerState(text)
    except ValueError:
        states = ", ".join(state.value for state in PowerState if state)
        raise ReadingError(f"{at}: there is no state {text[:30]!r}; write one of {states}") from None


def _cell_number(text: str, at: str, unit: str = "") -> tuple[str, str]:
    found = _CELL.fullmatch(text)
    if found is None:
        raise ReadingError(f"{at}: {text[:30]!r} is no number; write a number such as 11.3")
    return found["number"], found["unit"] or unit
