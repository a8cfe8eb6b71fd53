"""Codes in free text, as people and consoles write them. Invented texts; what counts as a code: common practice, no source."""

from __future__ import annotations

import pytest

from nopost.codes.code_events import CodeForm, CodeReading, EventOrder
from nopost.codes.readers.format_detection import read_text


def one(text: str | bytes, order: EventOrder | None = None) -> CodeReading:
    """The only reading of a text."""
    readings = read_text(text, order=order)
    assert len(readings) == 1, readings
    return readings[0]


def codes(text: str) -> list[str]:
    """The codes of a text, each as often as its count says."""
    return [code for r in read_text(text) if r.form is CodeForm.HEX for e in r.events for code in [e.code] * e.count]


@pytest.mark.parametrize(
    "text",
    [
        "10 11 1D 55",
        "10,11,1d,55",
        "0x10 0x11 0x1D 0x55",
        "10h 11h 1Dh 55h",
        "10\n11\n1D\n55\n",
        "10 -> 11 → 1D > 55",
        "10|11|1D|55",
        "10-11-1D-55",
        "10; 11; 1D; 55.",
        "10:11:1D:55",
        "[10] [11] [1D] [55]",
        '["0x10", "0x11", "0x1D", "0x55"]',
        "10 then 11 then 1D and 55",
        "POST codes: 10 11 1D 55",
        "10\r\n11\r\n1D\r\n\r\n55",
        "\x1b[32m10\x1b[0m 11 1D 55",
        "1: 10\n2: 11\n3: 1D\n4: 55",
        "1) 10\n2) 11\n3) 1D\n4) 55",
        "1,10\n2,11\n3,1D\n4,55",
        "0000: 10 11 1D 55",
        "0000: 10 11 1D 55\n".replace("0000: ", ""),
        b"10 11 1D 55".decode("ascii"),
    ],
)
def test_one_list_in_many_hands(text: str) -> None:
    """Prefixes, separators, arrows and running numbers do not change what is read."""
    assert codes(text)[-4:] == ["10", "11", "1D", "55"]


@pytest.mark.parametrize(
    "text", ["55 x4", "55 X4", "55 \u00d74", "55 *4", "55x4", "0x55x4", "55 (4 times)", "55 4x", "55 55 55 55", "55\n55\n55 x2"]
)
def test_repeats(text: str) -> None:
    """Without times, equal codes in a row are one event with a count."""
    (event,) = one(text).events
    assert (event.code, event.count) == ("55", 4)


def test_repeated_group() -> None:
    """A repeat after a bracket repeats what stands in it."""
    assert codes("(10 11 55) x3 AA") == ["10", "11", "55"] * 3 + ["AA"]


@pytest.mark.parametrize("text", ["10 11 55 …", "10 11 55 ..."])
def test_dots_are_said(text: str) -> None:
    """Dots are no code; that something goes on is noted."""
    assert codes(text) == ["10", "11", "55"]
    assert any("Dots" in note for note in one(text).notes)


def test_decimal_list() -> None:
    """Source of the first five and their hexadecimal: openbmc/webui-vue issue 51, as an example of the format."""
    reading = one("241 161 163 57598 44392")
    assert [e.code for e in reading.events] == ["F1", "A1", "A3", "E0FE", "AD68"]
    assert any("decimal" in note for note in reading.notes)


def test_wide_words() -> None:
    """32-bit words stay whole; leading zeros go. Source of the first word's form: OpenBIC, pull request 1076."""
    assert codes("B000A6AA 00051009 00000055 0092 1060") == ["B000A6AA", "00051009", "55", "92", "1060"]


def test_little_endian_rows() -> None:
    """Rows of four bytes whose last one stands still. Source of the first row: OpenBIC, pull request 1371 (EA00E093)."""
    reading = one("93 e0 00 ea\n94 e0 00 ea\n97 e1 00 ea\n")
    assert [e.code for e in reading.events] == ["EA00E093", "EA00E094", "EA00E197"]
    assert any("guess" in note for note in reading.notes)
    assert codes("10 11 12 13\n14 15 16 17\n18 19 1A 1B") != [], "plain rows stay two-digit codes"
    assert codes("10 11 12 13\n14 15 16 17\n18 19 1A 1B")[0] == "10"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("It is stuck at 55 and I add: be dead, face a bad cafe.", ["55"]),
        ("be", []),
        ("dead beef", []),
        ("AA", ["AA"]),
        ("ff", ["FF"]),
        ("00", ["00"]),
        ("the beach was a decade ago", []),
        ("port 80: 55", ["55"]),
        ("port 0x80 shows 0x55", ["55"]),
        ("it shows 2 codes 10 times", []),
        ("stuck at code A0 for 10 minutes", ["A0"]),
        ("left it for 24h", []),
        ("stopped at 10:55 with code 92", ["92"]),
        ("exit code 10", []),
        ("supply gives 12.05 V, display shows E1", ["E1"]),
        ("display shows --", []),
        ("Codes from the display:\n10 11 1D 1E\nthen it is stuck at 55", ["10", "11", "1D", "1E", "55"]),
        ("10 11 12 (reset) 10 11 12", ["10", "11", "12", "10", "11", "12"]),
        ("checkpoint 1d fe ad be ef", ["1D", "FE", "AD", "BE", "EF"]),
        ("", []),
        ("   \n\n", []),
    ],
)
def test_words_are_no_codes(text: str, expected: list[str]) -> None:
    """English words, quantities, times of day and versions do not become codes."""
    assert codes(text) == expected


CONSOLE = """\
loading stage one
memory at 0x80000000-0x8fffffff
POST: 0x39
setting 12 34 add
10 20
dead beef cafe
POST: 0x40
found 2 modules, 16 GB
POST: 0x41
bus 00 device 1f
dump 00 01 02
POST: 0x98
waiting
"""


def test_console_capture() -> None:
    """In a capture only the numbers next to a word for codes count; other marked numbers are counted as left out."""
    reading = one(CONSOLE)
    assert [e.code for e in reading.events] == ["39", "40", "41", "98"]
    assert [e.line for e in reading.events] == [3, 7, 9, 12]
    assert reading.source == "codes among other text"
    assert any("left out" in note for note in reading.notes)


def test_status_codes_on_a_console() -> None:
    """Form of the open UEFI reference firmware's serial status-code lines: from memory. Values: PI 1.8 volume 3."""
    reading = one("PROGRESS CODE: V03020002 I0\nERROR: C80000002:V03051002 I0 DEADBEEF\n")
    assert [(e.code, e.kind, e.status) for e in reading.events] == [
        ("03020002", "progress", "03020002"),
        ("03051002", "error", "03051002"),
    ]


@pytest.mark.parametrize(
    ("text", "times"),
    [
        ("0.5 10\n1.25 11\n4 s 55", [0.5, 1.25, 4.0]),
        ("[    0.500000] 10\n[    1.250000] 11\n[    4.000000] 55", [0.5, 1.25, 4.0]),
        ("500 ms 10\n1250ms: 11\n4000 ms 55", [0.5, 1.25, 4.0]),
        ("500 10\n1250 1D\n4000 AA", [0.5, 1.25, 4.0]),
        ("12:00:00.5 10\n12:00:01.25 11\n12:00:04 55", [0.0, 0.75, 3.5]),
        ("23:59:59 10\n00:00:01 11\n00:00:03 55", [0.0, 2.0, 4.0]),
        ("2031-02-03T23:59:59Z 10\n2031-02-04T00:00:01Z 11\n2031-02-04 00:00:03 55", [0.0, 2.0, 4.0]),
        ("2031-02-03T12:00:00+02:00 10\n2031-02-03T12:00:02+02:00 11\n2031-02-03T10:00:04.000+00:00 55", [0.0, 2.0, 4.0]),
        ("1, 0.5, 10\n2, 1.25, 11\n3, 4.0, 55", [0.5, 1.25, 4.0]),
    ],
)
def test_time_stamps(text: str, times: list[float]) -> None:
    """Stamps in front become seconds; dates and times of day count from the first event. ISO 8601; the rest common practice."""
    reading = one(text)
    assert [e.at for e in reading.events] == pytest.approx(times)
    assert reading.order_given
    assert reading.order is EventOrder.OLDEST_FIRST


@pytest.mark.parametrize(
    "text",
    ["3.5 55\n2.5 11\n1.0 10", "12:00:03 55\n12:00:02 11\n12:00:01 10", "3 55\n2 11\n1 10", "newest first\n55 11 10"],
)
def test_newest_first_by_what_stands_there(text: str) -> None:
    """Falling stamps or numbers, or words, turn the order; events come oldest first."""
    reading = one(text)
    assert [e.code for e in reading.events] == ["10", "11", "55"]
    assert (reading.order, reading.order_given) == (EventOrder.NEWEST_FIRST, True)


def test_order_asked_for() -> None:
    """Without any sign the order is not given; when asked for it is."""
    assert not one("10 11 55").order_given
    asked = one("55 11 10", EventOrder.NEWEST_FIRST)
    assert [e.code for e in asked.events] == ["10", "11", "55"]
    assert (asked.order, asked.order_given) == (EventOrder.NEWEST_FIRST, True)


def test_asked_order_against_the_stamps() -> None:
    """What is asked for counts; stamps that say otherwise go, and that is said."""
    reading = one("1.0 10\n2.0 11\n3.0 55", EventOrder.NEWEST_FIRST)
    assert [(e.code, e.at) for e in reading.events] == [("55", None), ("11", None), ("10", None)]
    assert any("do not fit" in note for note in reading.notes)


def test_clock_that_starts_again() -> None:
    """Seconds that fall back to the start are a new start-up; times go on rising."""
    reading = one("[1.0] 10\n[2.0] 11\n[3.0] 55\n[1.0] 10\n[2.0] 11\n[2.5] 12")
    assert [e.boot for e in reading.events] == [1, 1, 1, 2, 2, 2]
    assert [e.at for e in reading.events] == [1.0, 2.0, 3.0, 4.0, 5.0, 5.5]


def test_timed_codes_stay_apart() -> None:
    """With times, equal codes in a row stay separate events: how long each stood is known."""
    assert [(e.code, e.at) for e in one("1.0 55\n2.0 55\n9.0 55").events] == [("55", 1.0), ("55", 2.0), ("55", 9.0)]


def test_two_signs_in_one_text() -> None:
    """A story with a display, a speaker and a lamp gives a reading for each."""
    found = {r.form: [e.code for e in r.events] for r in read_text("The display is stuck at 55, three beeps, memory lamp lit")}
    assert found == {CodeForm.HEX: ["55"], CodeForm.BEEPS: ["3"], CodeForm.LAMPS: ["memory"]}


def test_bytes_that_are_not_utf8() -> None:
    """They are decoded with replacement; UTF-16 is known by its mark."""
    assert codes(b"\xff\xfe\xfa junk\n10 11 55".decode("latin-1")) == ["10", "11", "55"]
    assert [e.code for e in one(b"10 11 \x80\x81 55").events] == ["10", "11", "55"]
    assert [e.code for e in one("10 11 55".encode("utf-16")).events] == ["10", "11", "55"]
