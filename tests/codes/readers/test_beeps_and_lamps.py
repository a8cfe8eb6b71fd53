"""Beeps and stage lamps in words. Common practice, no source; spelled as the shipped tables spell them."""

from __future__ import annotations

import pytest

from nopost.codes.code_events import CodeForm
from nopost.codes.readers.format_detection import read_text
from nopost.knowledge.model import Knowledge


def codes(text: str, form: CodeForm) -> list[str]:
    """The codes of one form in a text."""
    return [e.code for r in read_text(text) if r.form is form for e in r.events]


BEEPS = {
    "long-short-short": [
        "1 long 2 short",
        "one long, two short",
        "1 long and 2 short beeps",
        "-..",
        "-··",
        "long short short",
        "one long beep then two short",
    ],
    "long-short-short-short": ["1 long 3 short", "one long and three short beeps"],
    "long-long-short-short": ["--..", "2 long 2 short"],
    "3": ["three beeps", "3 beeps", "It beeps three times.", "3 short beeps", "beep beep beep"],
    "1": ["one beep", "a single beep", "it beeped once"],
    "short": ["1 short", "one short beep", "a short beep"],
    "1-3-1": ["1-3-1", "1 - 3 - 1", "beep code 1-3-1", "beeps 1\u20133\u20131"],
    "continuous": ["continuous", "continuous tone", "one long continuous beep", "one continuous beep"],
    "two-tone": ["siren", "it sounds like a siren", "two tones alternating"],
    "long-repeated": ["long beeps again and again", "continuous long beeps", "repeating long beep"],
    "short-repeated": ["short beeps over and over", "repeated short beeps", "continuous beeps"],
}


@pytest.mark.parametrize(("expected", "text"), [(code, text) for code, texts in BEEPS.items() for text in texts])
def test_beeps(expected: str, text: str) -> None:
    """One pattern, however it is put; no code of a display is seen in it."""
    assert codes(text, CodeForm.BEEPS) == [expected]
    assert codes(text, CodeForm.HEX) == []


def test_beep_lines_in_order() -> None:
    """Each line is one event."""
    assert codes("1 beep\n3 beeps\n1-3-1", CodeForm.BEEPS) == ["1", "3", "1-3-1"]


@pytest.mark.parametrize("text", ["10 11 12", "...", "--", "one", "no beep", "E1 E2", "a long story", "2031-02-03", "-----"])
def test_no_beeps(text: str) -> None:
    """Other texts have no beeps."""
    assert codes(text, CodeForm.BEEPS) == []


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("CPU lamp lit", ["cpu"]),
        ("The memory LED stays on", ["memory"]),
        ("DRAM light blinking", ["memory"]),
        ("RAM led flashing", ["memory"]),
        ("VGA light steady", ["graphics"]),
        ("video lamp on", ["graphics"]),
        ("GPU: on", ["graphics"]),
        ("boot device lamp on", ["boot"]),
        ("stuck on the boot LED", ["boot"]),
        ("red light on CPU", ["cpu"]),
        ("CPU: off\nDRAM: on\nVGA: off\nBOOT: off", ["memory"]),
        ("Memory lamp off, boot lamp on", ["boot"]),
        ("cpu on, then off, memory on", ["cpu", "memory"]),
        ("CPU lights, then memory lights, then VGA stays on", ["cpu", "memory", "graphics"]),
        ("cpu -> memory -> vga -> boot LED", ["cpu", "memory", "graphics", "boot"]),
        (
            "CPU lights up, goes out, then DRAM lights up and goes out, then VGA lights up and stays",
            ["cpu", "memory", "graphics"],
        ),
        ("CPU -> DRAM -> VGA -> BOOT LED, then all off", ["cpu", "memory", "graphics", "boot", "all-passed"]),
        ("CPU and DRAM leds on", ["several"]),
        ("all lamps on", ["several"]),
        ("all lamps off", ["none"]),
        ("no lamp lights", ["none"]),
        ("CPU LED never lit", ["none"]),
        ("the lamp for memory is lit and the others are dark", ["memory"]),
        ("[1.0] cpu on\n[2.5] memory on", ["cpu", "memory"]),
        ("the CPU fan is on", []),
        ("memory training goes on", []),
        ("the machine is on", []),
        ("the memory lamp is off", []),
        ("cpu lamp is not lit", []),
        ("all lamps are off", ["none"]),
        ("cpu lamp off, memory lamp off, graphics lamp off, boot lamp off", ["none"]),
        ("10 11 55", []),
    ],
)
def test_lamps(text: str, expected: list[str]) -> None:
    """What is lit at the end of each step, in order."""
    assert codes(text, CodeForm.LAMPS) == expected


def test_lamp_times_and_notes() -> None:
    """Times stay; guesses are said."""
    (reading,) = read_text("[1.0] cpu lamp blinking\n[2.5] memory lamp blinking")
    assert [e.at for e in reading.events] == [1.0, 2.5]
    assert reading.order_given
    assert any("blinking" in note for note in reading.notes)
    assert any("gone out" in note for note in reading.notes)


@pytest.mark.slow
def test_spelling_of_the_tables(knowledge: Knowledge) -> None:
    """Every lamp and state the readers write, and every worded beep, stands in a shipped table."""
    known = {row.code for table in knowledge.codes.values() for row in table.codes if table.form in ("beeps", "lamps", "states")}
    assert {"cpu", "memory", "graphics", "boot", "none", "several", "all-passed"} <= known
    assert {code for code in BEEPS if not code.startswith("long-long")} <= known
