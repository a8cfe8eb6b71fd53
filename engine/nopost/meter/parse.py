"""Readings from typed text: `12V=11.3 5 V 5,02 pin 9 = 5.05 PS_ON@pressed=0.2 PWR_OK delay 320 ms cell=2710mV`."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator

from nopost.errors import ReadingError
from nopost.meter.names import Names
from nopost.meter.reading import Kind, Reading, State, Target

LONGEST = 20_000
"""Characters of typed text; nobody types more."""
NUMBER = r"[-+\u2212\u2013]?(?:\d{1,7}(?:[.,]\d{1,6})?|[.,]\d{1,6})"
MILLI = 0.001
UNITS = {"v": 1.0, "volt": 1.0, "volts": 1.0, "mv": MILLI, "millivolt": MILLI, "millivolts": MILLI}
TIME_UNITS = {"ms": 1.0, "s": 1000.0, "sec": 1000.0}
_UNIT = "|".join(sorted([*UNITS, *TIME_UNITS], key=len, reverse=True))
_STATES = "|".join(state.value for state in State if state)
_OVERLOAD = re.compile(r"\s*[=:]?\s*(?:0?\.?OL|overload)\b", re.IGNORECASE)


def parse(text: str, names: Names, at: str = "") -> list[Reading]:
    """All readings of a text. Raises ReadingError for the first piece that is none."""
    if len(text) > LONGEST:
        raise ReadingError(f"{_place(at)}longer than {LONGEST} characters; put the readings into a CSV file and use --file")
    return list(_readings(text, names, at))


def reading(target: Target, number: str, unit: str = "", *, wrote: str = "", at: str = "") -> Reading:
    """A reading of a known target from its number. Raises ReadingError when number or unit is none."""
    if not re.fullmatch(NUMBER, number):
        raise ReadingError(f"{_place(at)}{target.name}: {number[:30]!r} is no number; write a number such as 11.3")
    factors, other = (TIME_UNITS, UNITS) if target.kind is Kind.TIME else (UNITS, TIME_UNITS)
    if unit.casefold() in other:
        what = "a time: give ms or s" if target.kind is Kind.TIME else "a voltage: give V or mV"
        raise ReadingError(f"{_place(at)}{target.name} is {what}, not {unit}")
    factor = factors.get(unit.casefold(), 1.0)
    value = value_of(number) / 1000 if factor == MILLI else value_of(number) * factor  # divided, 11400 mV are 11.4 V exactly
    return Reading(target, value, wrote=wrote or f"{target.name} {number} {unit}".strip(), at=at)


def value_of(number: str) -> float:
    """A number with a point or a comma, and any minus sign."""
    return float(re.sub("[\u2212\u2013]", "-", number).replace(",", "."))


def unknown_name(written: str, names: Names, at: str = "") -> ReadingError:
    """The error for a name that is none."""
    known = names.known()
    near = difflib.get_close_matches(written.upper(), known, n=2, cutoff=0.5)
    hint = f"did you mean {' or '.join(near)}?" if near else f"known: {', '.join(known)}, pin 9, purple wire"
    return ReadingError(f"{_place(at)}{written[:40]!r} is nothing that has limits; {hint}")


def _readings(text: str, names: Names, at: str) -> Iterator[Reading]:
    end_here = r"(?=$|[\s,;])"
    whole = re.compile(
        rf"{names.pattern}\s*(?:@\s*(?P<state>{_STATES})\b)?\s*(?:[=:]|is\b|->)?\s*"
        rf"(?P<number>{NUMBER})\s*(?:(?P<unit>{_UNIT})\b)?{end_here}"
        rf"(?:[\s,]*ripple\s*[=:]?\s*(?P<ripple>{NUMBER})\s*(?P<ripple_unit>mV|V)?{end_here})?",
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


def _reading(found: re.Match[str], names: Names, at: str) -> Reading:
    target = names.find(found["name"])
    if target is None:
        raise ReadingError(f"{_place(at)}{found['name']!r}: no such contact; the wide board plug has 1 to 24")
    made = reading(target, found["number"], found["unit"] or "", wrote=found[0].strip(), at=at)
    ripple = ripple_of(found["ripple"], found["ripple_unit"] or "mV") if found["ripple"] else None
    state = State((found["state"] or "").casefold())
    return Reading(made.target, made.value, state, ripple, made.wrote, at)


def ripple_of(number: str, unit: str = "mV") -> float:
    """Ripple in mV."""
    return abs(value_of(number)) * (1000.0 if unit.casefold() == "v" else 1.0)


def _refusal(rest: str, names: Names, at: str) -> ReadingError:
    """Why nothing could be read here: no name, or no number after it."""
    named = re.match(rf"{names.pattern}", rest, re.IGNORECASE)
    if named is None:
        return unknown_name(re.split(r"[\s=:,;]", rest, maxsplit=1)[0] or rest[:1], names, at)
    if _OVERLOAD.match(rest, named.end()):
        return ReadingError(f"{_place(at)}{named['name']}: OL means out of the meter's range; set it to DC volts, 20 V")
    told = rest[named.end() :].strip(" =:")[:20]
    wrong = f"{told!r} is no reading" if told else "there is no reading after it"
    return ReadingError(f"{_place(at)}{named['name']}: {wrong}; write {named['name']}=11.3, in V or mV")


def _place(at: str) -> str:
    return f"{at}: " if at else ""
