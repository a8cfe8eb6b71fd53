"""No input whatever breaks a reader; what comes out is always well formed and always the same; the work grows with the length."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from codes.readers.test_record_formats import LISTING, NEW, OLD, SBMR, SEL, page, record
from nopost.codes.code_events import CodeEvent, EventOrder
from nopost.codes.readers.format_detection import MAX_LENGTH, read_text

SCHEMA = Path(__file__).resolve().parents[3] / "schemas" / "codes.schema.json"
CODE = re.compile(json.loads(SCHEMA.read_text(encoding="utf-8"))["properties"]["codes"]["items"]["properties"]["code"]["pattern"])
STATUS = re.compile("(?:[0-9A-F]{8})?")

EXAMPLES: list[str | bytes] = [
    "10 11 1D -> 1E → 55 x12 …",
    "(10 11 55) x3 60",
    "[   1.5] 10\n[   2.5] 11\n[   0.1] 10\n[   0.2] 11",
    "12:30:45 E1\n12:30:46 55\n2031-02-03T04:05:06.842Z E1",
    "1: E1\n2: E2\n3: 55",
    "241 161 163 57598 44392",
    "93 e0 00 ea\n94 e0 00 ea\n97 e1 00 ea",
    "POST: 0x39\nhello 0x1234\nport 80: 55h\nstuck at AA, newest first",
    "PROGRESS CODE: V03020002 I0\nERROR: C80000002:V03051002 I0",
    "1 long 2 short beeps\n1-3-1\n--..\nsiren",
    "CPU lamp on, then off, memory lamp blinking\nall lamps off",
    "\n".join((SEL, record(1, 5), record(2, 0x67015180, way=0xEF))),
    LISTING,
    "\n".join(SBMR),
    bytes.fromhex(SEL.replace(" ", "") * 2),
    bytes.fromhex("".join(SBMR)),
    json.dumps(page(NEW + OLD)),
    "\n".join(json.dumps(item) for item in NEW),
    '{"BootProgress": {"LastState": "OEM", "OemLastState": "x", "LastStateTime": "2031-02-03T04:05:06Z"}}',
]
PIECES = [
    *"0123456789ABCDEFabcdefxXhH\u00d7*().,:;|->→…[]{}\"'\n\r\t \0\x1b",
    *("0x", "55", "E1", "x12", "post", "code:", "0x80", "beep", "long", "short", "lamp", "cpu", "memory", "on", "off", "then"),
    *("2031-02-03T04:05:06Z", "[1.0]", "12:30:45", "...", "--..", "1-3-1"),
    *(
        '"MessageArgs":[',
        '"1","2.0","0x53"]',
        '{"Id":"B1-1",',
        "LastState=",
        "OSRunning",
        "| System Firmware Progress |",
        "\u2028",
        "\u00b2",
        "\u0663",
        "\U0001d7dd",
    ),
    "02 00 00 00 ",
    "\ud800",
]


def check(text: str | bytes, order: EventOrder | None = None) -> None:
    """Everything that holds for every reading."""
    readings = read_text(text, order=order)
    assert readings == read_text(text, order=order)
    assert len({r.form for r in readings}) == len(readings)
    for reading in readings:
        assert reading.source
        assert reading.unread >= 0
        assert all(isinstance(note, str) and note for note in reading.notes)
        for event in reading.events:
            check_event(event)
        known = [e.at for e in reading.events if e.at is not None]
        assert known == sorted(known)
        assert [e.boot or 0 for e in reading.events] == sorted(e.boot or 0 for e in reading.events)


def check_event(event: CodeEvent) -> None:
    """An event is as its description says."""
    assert CODE.fullmatch(event.code), event
    assert STATUS.fullmatch(event.status)
    assert event.kind in ("", "progress", "error")
    assert event.count >= 1
    assert event.line >= 0
    assert event.boot is None or event.boot >= 1


orders = st.sampled_from([None, *EventOrder])


@pytest.mark.slow
@given(st.text(max_size=300), orders)
def test_any_text(text: str, order: EventOrder | None) -> None:
    """Any characters."""
    check(text, order)


@pytest.mark.slow
@given(st.binary(max_size=300), orders)
def test_any_bytes(data: bytes, order: EventOrder | None) -> None:
    """Any bytes."""
    check(data, order)


@pytest.mark.slow
@given(st.lists(st.sampled_from(PIECES), max_size=80).map("".join), orders)
def test_any_pieces(text: str, order: EventOrder | None) -> None:
    """Pieces of all formats in any order reach deeper than any characters do."""
    check(text, order)
    check(text.replace(":", " "), order)


@st.composite
def damaged(draw: st.DrawFn) -> str | bytes:
    """A valid example with parts taken out, doubled, moved or written over."""
    text = draw(st.sampled_from(EXAMPLES))
    for _ in range(draw(st.integers(1, 4))):
        a, b = sorted((draw(st.integers(0, len(text))), draw(st.integers(0, len(text)))))
        if isinstance(text, bytes):
            text = text[:a] + draw(st.sampled_from([b"", text[a:b] * 2, draw(st.binary(max_size=4))])) + text[b:]
        else:
            text = text[:a] + draw(st.sampled_from(["", text[a:b] * 2, draw(st.sampled_from(PIECES))])) + text[b:]
    return text


@pytest.mark.slow
@given(damaged(), orders)
def test_damaged_examples(text: str | bytes, order: EventOrder | None) -> None:
    """Valid examples of each format, damaged."""
    check(text, order)


@pytest.mark.parametrize("text", EXAMPLES)
def test_examples_are_read(text: str | bytes) -> None:
    """The undamaged ones give events."""
    check(text)
    assert all(r.events for r in read_text(text))
    assert read_text(text)


@pytest.mark.slow
@given(st.lists(st.integers(0, 255), min_size=1, max_size=60))
def test_any_list_of_codes(values: list[int]) -> None:
    """Any list of two-digit codes in capitals comes back whole."""
    text = " ".join(f"0x{v:02X}" for v in values)
    (reading,) = read_text(text)
    assert [int(e.code, 16) for e in reading.events for _ in range(e.count)] == values


DEEP: list[Callable[[int], str]] = [
    lambda n: "[" * n,
    lambda n: '{"a":' * n + "@odata",
    lambda n: '[{"MessageArgs":[' * n,
    lambda n: '"MessageArgs" : ["1", "2' * n,
    lambda n: '{"MessageId":"x.BIOSPOSTCode","MessageArgs":[' * n + "1,2,3" + "]}" * n,
    lambda n: "(" * n + "55" + ")" * n + " x1000",
    lambda n: "( 55 10 ) x1000 " * n,
    lambda n: "0x" * n,
    lambda n: "1-" * n,
    lambda n: "-." * n,
    lambda n: "12:" * n,
    lambda n: "55 x" * n,
    lambda n: "9" * n,
    lambda n: "5" * n + "h",
    lambda n: "long " * n,
    lambda n: "cpu lamp on then " * n,
    lambda n: "\x1b[1;" * n,
    lambda n: " " * n + "55",
    lambda n: "| system firmware | c0 01 " * n,
    lambda n: "34 12 02 80 51 01 67 33 00 04 0F 06 6F C0 01 FF " * n,
    lambda n: '{"LastState":' + "9" * n + "}",
]


@pytest.mark.slow
@pytest.mark.parametrize("make", DEEP)
def test_deep_and_long(make: Callable[[int], str]) -> None:
    """Deep nesting, long runs and huge numbers."""
    check(make(3000))


LONG: list[Callable[[int], str]] = [
    lambda n: "E1 55 92 10 " * n,
    lambda n: "E1\n55\n" * n,
    lambda n: "The display is stuck at 55 since 10:11, lamp on, three beeps.\n" * n,
    lambda n: "(55 10 " * n,
    lambda n: "\n".join(f"[{i}.5] POST: 0x{i % 256:02X}" for i in range(n)),
    lambda n: json.dumps(page(OLD * n)),
    lambda n: LISTING * n,
    lambda n: (SEL + "\n") * n,
    lambda n: "\n".join(SBMR) * n,
]


def steps(text: str) -> int:
    """How many lines of the readers run for a text: the work, whatever the machine."""
    count = 0

    def trace(frame: FrameType, event: str, _: Any) -> Any:
        nonlocal count
        if "codes" not in frame.f_code.co_filename:
            return None
        count += event == "line"
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        read_text(text)
    finally:
        sys.settrace(before)
    return count


@pytest.mark.slow
@pytest.mark.parametrize("make", LONG)
def test_work_grows_with_the_length(make: Callable[[int], str]) -> None:
    """Four times the text, no more than about four times the lines run."""
    assert steps(make(200)) < 5 * steps(make(50)) + 2000


@pytest.mark.slow
def test_too_long_is_cut_and_said() -> None:
    """Of a text longer than the limit the end is read, and not the beginning."""
    line = "10" + " " * 997 + "\n"
    (reading,) = read_text("E1\n" + line * (MAX_LENGTH // len(line) + 1) + "55\nAA\n")
    codes = [e.code for e in reading.events]
    assert (codes[-2:], "E1" in codes) == (["55", "AA"], False)
    assert any("Only the last 8 MB" in note for note in reading.notes)
