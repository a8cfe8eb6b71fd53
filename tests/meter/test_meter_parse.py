"""Every usual writing of a reading; whatever else is typed is one clear error."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nopost.errors import ReadingError
from nopost.meter.parse_readings import LONGEST_TEXT, MAX_BYTES, parse_text, read_csv
from nopost.meter.reading import MeasurandNames, MeterReading, PowerState, names_of
from shipped import shipped_knowledge

NAMES: MeasurandNames = names_of(shipped_knowledge().limits.values())
WRITTEN = {
    "+12V": ("12V", "+12V", "12 V", "+ 12 v", "12V1"),
    "+5V": ("5V", "+5V", "5 V", "5VDC"),
    "+3.3V": ("3.3V", "3V3", "3,3V", "+3.3 V", "3.3vdc"),
    "-12V": ("-12V", "\u221212V", "- 12 V"),
    "+5VSB": ("5VSB", "+5VSB", "5 VSB", "5V SB", "VSB", "standby", "pin 9", "contact 9", "purple", "Purple wire"),
    "PS_ON#": ("PS_ON#", "PS_ON", "ps-on", "PSON", "PS ON", "pin 16", "green"),
    "PWR_OK": ("PWR_OK", "PWROK", "power good", "PG", "pin #8", "gray wire", "grey"),
    "+12V2": ("12V2", "CPU 12V", "cpu-4 pin 3", "cpu-8 pin 5"),
    "cell": ("cell", "VBAT", "coin cell", "Battery"),
}
SPELLED = st.sampled_from([(name, text) for name, texts in WRITTEN.items() for text in texts])


def short(readings: list[MeterReading]) -> list[tuple[str, float]]:
    """Names and values."""
    return [(reading.name, reading.value) for reading in readings]


def attempt(read: Callable[[], list[MeterReading]]) -> tuple[list[MeterReading], str]:
    """The readings, or the text of the one error that may come."""
    try:
        return read(), ""
    except ReadingError as error:
        return [], str(error)


@st.composite
def written(draw: st.DrawFn) -> tuple[str, str, float]:
    """A reading as somebody writes it, with its name and its volts."""
    name, text = draw(SPELLED)
    millivolts = draw(st.integers(-20_000, 20_000))
    joint = draw(st.sampled_from(["=", ": ", " = ", " "]))
    if draw(st.booleans()):
        return f"{text}{joint}{millivolts}{draw(st.sampled_from(['mV', ' mV', 'mv']))}", name, millivolts / 1000
    number = f"{millivolts / 1000:.3f}".replace(".", draw(st.sampled_from([".", ","])))
    return f"{text}{joint}{number}{draw(st.sampled_from(['', 'V', ' V', ' volts']))}", name, millivolts / 1000


@pytest.mark.slow
@given(st.lists(written(), min_size=1, max_size=8), st.sampled_from([" ", ", ", "; ", "\n", "  "]))
def test_usual_writings(pieces: list[tuple[str, str, float]], joint: str) -> None:
    """Names, joints, units, commas and separators in any mixture give the same readings."""
    found = short(parse_text(joint.join(text for text, _, _ in pieces), NAMES))
    assert found == [(name, volts) for _, name, volts in pieces]


@settings(max_examples=200)
@given(st.one_of(st.text(max_size=60), st.text(alphabet="0123456789VvSBOKPNm+-.,=:;@ #", max_size=40)))
def test_anything_else_is_one_error(text: str) -> None:
    """Whatever is typed: readings with finite values, or a ReadingError."""
    found, refusal = attempt(lambda: parse_text(text, NAMES))
    assert all(abs(reading.value) < 1e11 for reading in found)
    assert not (found and refusal)


@pytest.mark.slow
@given(st.one_of(st.binary(max_size=120), st.text(max_size=80).map(lambda text: f"name,volts\n{text}".encode())))
def test_any_table_is_readings_or_one_error(data: bytes) -> None:
    """The same for files."""
    found, refusal = attempt(lambda: read_csv(data, NAMES, "t.csv"))
    assert refusal.startswith("t.csv") != bool(found)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("5V=5,12V=11.9,3,3V=3,28", [("+5V", 5.0), ("+12V", 11.9), ("+3.3V", 3.28)]),
        ("5V=5,3.3V=3.28", [("+5V", 5.0), ("+3.3V", 3.28)]),
        ("3.3V=3.28 -12V=-11.8", [("+3.3V", 3.28), ("-12V", -11.8)]),
        ("PWR_OK delay 0.32 s T1=400", [("T3", 320.0), ("T1", 400.0)]),
        ("12V=11400mV", [("+12V", 11.4)]),
        ("pin 3 = .02", [("ground", 0.02)]),
        ("", []),
    ],
)
def test_hard_ones(text: str, said: list[tuple[str, float]]) -> None:
    """A comma parts and is a point, a minus names and is a sign."""
    assert short(parse_text(text, NAMES)) == said


def test_state_and_ripple() -> None:
    """A state follows the name, a ripple the value."""
    one, two = parse_text("PS_ON@pressed=0.2, 12V@running: 11.9V ripple 0.04V", NAMES)
    assert (one.power_state, one.ripple) == (PowerState.PRESSED, None)
    assert (two.power_state, two.ripple) == (PowerState.RUNNING, 40.0)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("foo=3", "'foo' is nothing that has limits"),
        ("PWR_OX=3", "did you mean PWR_OK"),
        ("12V=OL", "set it to DC volts, 20 V"),
        ("12V", "there is no reading after it"),
        ("12V=abc", "'abc' is no reading"),
        ("pin 99=3", "1 to 24"),
        ("T3=5V", "T3 is a time"),
        ("12V=3ms", "is a voltage"),
        ("12V=1e3", "is no reading"),
        ("12V=nan", "is no reading"),
        ("x" * (LONGEST_TEXT + 1), "use --file"),
    ],
)
def test_refused(text: str, said: str) -> None:
    """What is wrong, and what to write instead."""
    with pytest.raises(ReadingError) as raised:
        parse_text(text, NAMES)
    assert said in str(raised.value)


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("name,volts\n12V,11.3\n", [("+12V", 11.3)]),
        ("\ufeffname;volts\n12V;11,3\n5 V;5,02\n", [("+12V", 11.3), ("+5V", 5.02)]),
        ("pin\tmV\n9\t5050\n", [("+5VSB", 5.05)]),
        ('# from the bench\n\nName,Volts\n12V,"11,3"\n5V,\n', [("+12V", 11.3)]),
        ("rail,value,state,ripple (mV),time (ms)\n12V,11.9,running,40,150\nPWR_OK,4.9,running,,320\n",
         [("+12V", 11.9), ("T1", 150.0), ("PWR_OK", 4.9), ("T3", 320.0)]),
        ("wire,volts\npurple,5.1 V\nred,5020 mV\n", [("+5VSB", 5.1), ("+5V", 5.02)]),
    ],
)  # fmt: skip
def test_tables(table: str, said: list[tuple[str, float]]) -> None:
    """Commas, semicolons and tabs, comma decimals, contacts and wires, empty cells, comments."""
    assert short(read_csv(table.encode(), NAMES, "t.csv")) == said


@pytest.mark.parametrize(
    ("table", "said"),
    [
        (b"", "no reading in it"),
        (b"12V,11.3\n", "t.csv:1: the first line names the columns"),
        (b"name,volts\n12V,11.3\nfoo,3\n", "t.csv:3: 'foo' is nothing"),
        (b"name,volts\n12V,abc\n", "t.csv:2: 'abc' is no number"),
        (b"name,volts,state\n12V,11,asleep\n", "t.csv:2: there is no state 'asleep'"),
        (b"name,volts,ripple\n12V,,40\n", "t.csv:2: ripple without volts"),
        (b"name,volts,time\ncell,3,40\n", "t.csv:2: no guide states a time for cell"),
        (b"\xff\xfe", "not UTF-8"),
        (b"name\0,volts", "not a text file"),
        (b"#" * (MAX_BYTES + 1), "larger than 1 MiB"),
    ],
)
def test_tables_refused(table: bytes, said: str) -> None:
    """File and line, what is wrong, and what to do."""
    with pytest.raises(ReadingError) as raised:
        read_csv(table, NAMES, "t.csv")
    assert said in str(raised.value)
