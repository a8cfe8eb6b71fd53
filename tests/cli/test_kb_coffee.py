"""A knowledge base for coffee machines, from an empty folder, by the guided commands alone: nothing is wired to PCs."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from cli.guided_talk import Talk, talk
from cli.terminal import Terminal, plain

Run = Callable[..., CompletedProcess[str]]
At = Callable[..., Terminal]

SOURCE = [("Source [judgement]", "")]
EFFORT = [("Minutes of work", "2"), ("Money spent", ""), ("Risk", "")]

NEW = [
    ("Its name", "Why the coffee machine gives no coffee"),
    ("1:", "Mains and cable"),
    ("2:", "Water tank"),
    ("3:", "Pump"),
    ("4:", "Boiler"),
    ("5:", ""),
    ("What to do then", ""),
    ("Minutes it takes", ""),
    ("What it costs", "80"),
    ("a minute of work is worth", ""),
    ("1:", "Three cups in a row come out hot."),
    ("2:", ""),
]
HAZARD = [
    ("What can hurt", "Boiler and steam burn"),
    ("Id, which also names the file", ""),
    ("What to do and not to do", "Switch off, unplug, and let it cool for half an hour before you open it."),
    ("Words, parted by commas", "boiler, steam"),
    ("must everything that needs power wait", ""),
    *SOURCE,
]
LAMP = [
    ("What the person is asked", "Does the power lamp glow?"),
    ("The same as a headline", "Power lamp"),
    ("Id, which also names the file", ""),
    ("Part:", "mains"),
    ("Kind [graded]", ""),
    ("Answer 1", "It glows"),
    ("its id", ""),
    ("Answer 2", "It stays dark"),
    ("its id", "dark"),
    ("Answer 3", ""),
    ("Numbers", "100"),  # one number too few: asked again
    ("2 answers but 1 numbers", "99 1"),
    ("report it wrongly", ""),
    ("How to look", ""),
    *EFFORT,
    ("Tool [-]", ""),
    ("Hazards:", ""),
    ("Must the power be on", "y"),
    ("only after some other answer", ""),
    *SOURCE,
    ("Write it?", ""),
    ("always be asked first", "y"),
]
SOUND = [
    ("What the person is asked", "What does the pump sound like?"),
    ("The same as a headline", "Sound of the pump"),
    ("Id, which also names the file", "pump-sound"),
    ("Part:", "pump"),
    ("Kind [graded]", ""),
    ("Answer 1", "Even and deep"),
    ("its id", "even"),
    ("Answer 2", "High and rattling"),
    ("its id", "rattling"),
    ("Answer 3", "Nothing"),
    ("its id", "silent"),
    ("Answer 4", ""),
    ("Numbers", "90 8 2"),
    ("report it wrongly", "5"),
    ("How to look", "Press the cup button and listen at the back."),
    *EFFORT,
    ("Tool [-]", ""),
    ("Hazards:", ""),
    ("Must the power be on", "y"),
    ("only after some other answer", ""),
    *SOURCE,
    ("Write it?", ""),
    ("always be asked first", ""),
]
FILL = [
    ("What to do", "Fill the tank and push it home"),
    ("Id, which also names the file", "fill-tank"),
    ("Kind [fix]", ""),
    ("Part:", "water"),
    ("1:", "Fill the tank up to its mark."),
    ("2:", "Push it in until it clicks."),
    ("3:", ""),
    *EFFORT,
    ("Tool [-]", ""),
    ("Hazards:", ""),
    ("switched on as part of it", "y"),
    ("only under some conditions", ""),
    ("Findings:", "pump-sound"),
    ("settings back", ""),
    *SOURCE,
    ("Write it?", ""),
    ("Written:", ""),
]
EMPTY_TANK = [
    ("What is wrong", "The tank is empty or not pushed home"),
    ("Id, which also names the file", "tank-empty"),
    ("Part:", "water"),
    ("Of a thousand", "300"),
    ("Finding:", "pump-sound"),
    ("Numbers", "95 4 1"),  # a fault never makes the best answer more frequent
    ("Not so", "5 90 5"),
    ("Finding [-]", ""),
    ("Fix:", "fill-tank"),
    ("in how many of 100 cases", "95"),
    ("Fix [-]", ""),
    ("How to be sure", "The next cup comes out after filling."),
    ("For an apprentice", "Without water the pump draws air, which makes it rattle."),
    ("Hazards:", ""),
    ("another fault besides", ""),
    *SOURCE,
    *SOURCE,
    *SOURCE,
    ("Write it?", ""),
]
NO_MAINS = [
    ("What is wrong", "No mains at the socket"),
    ("Id, which also names the file", "no-mains"),
    ("Part:", "mains"),
    ("Of a thousand", "100"),
    ("Finding:", "power-lamp"),
    ("Numbers", "0 100"),
    ("Finding [-]", "pump-sound"),
    ("Numbers", "silent"),
    ("Finding [-]", ""),
    ("Fix:", "+"),  # a new action in between
    ("What to do", "Use another socket that works"),
    ("Id, which also names the file", "other-socket"),
    ("Kind [fix]", ""),
    ("Part:", "+"),
    ("Name of the part", "Kitchen"),
    ("Id of the part", ""),
    ("1:", "Plug it into a socket where a lamp works."),
    ("2:", ""),
    *EFFORT,
    ("Tool [-]", "+"),
    ("Name of the tool", "Table lamp"),
    ("Its id", ""),
    ("Minutes to get it", ""),
    ("What it costs then", ""),
    ("Tool [-]", ""),
    ("Hazards:", ""),
    ("switched on as part of it", "y"),
    ("only under some conditions", ""),
    ("Findings:", "power-lamp, pump-sound"),
    ("settings back", ""),
    *SOURCE,
    ("Write it?", ""),
    ("in how many of 100 cases", "90"),
    ("Fix [-]", ""),
    ("How to be sure", "It works at the other socket and not at the first."),
    ("For an apprentice", "A tripped breaker leaves the whole kitchen counter dead."),
    ("Hazards:", ""),
    ("another fault besides", "n"),
    *SOURCE,
    *SOURCE,
    *SOURCE,
    ("Write it?", ""),
]
RULE = [
    ("The rule as a headline", "A dark lamp means a silent pump"),
    ("Id, which also names the file", "dark-lamp-silent-pump"),
    ("Finding:", "power-lamp"),
    ("Answer (several", "dark"),
    ("Finding [-]", ""),
    ("Finding [-]", ""),
    ("Then:", "close-question"),
    ("Which:", "pump-sound"),
    ("Then [-]", ""),
    ("The reason", "Without power the pump cannot run, so it need not be heard."),
    *SOURCE,
    ("Write it?", ""),
]
CASE = [
    ("The case in one line", "It rattled after the holidays"),
    ("Id, which also names the file", "rattled-after-holidays"),
    ("What the person told", "It rattled and gave no coffee."),
    ("Finding [-]", "power-lamp"),
    ("Answer:", "glows"),
    ("Finding [-]", "pump-sound"),
    ("Answer:", "rattling"),
    ("Finding [-]", ""),
    ("Fix [-]", ""),
    ("Cause [-]", "tank-empty"),
    ("Within the first", "1"),
    ("What was done", ""),
    *SOURCE,
    ("Write it?", ""),
]
ADDED: list[tuple[str, Talk, int]] = [
    ("hazard", [*HAZARD, ("Write it?", "")], 0),
    ("finding", LAMP, 0),
    ("finding", SOUND, 0),
    ("action", FILL[:-1], 0),
    ("cause", EMPTY_TANK, 0),
    ("cause", NO_MAINS, 0),
    ("rule", RULE, 0),
    ("case", CASE, 0),
]


@pytest.fixture
def coffee(terminal: At, tmp_path: Path) -> Path:
    """The knowledge base, built at a terminal."""
    folder = tmp_path / "coffee"
    with terminal("kb", "new", "--empty", str(folder)) as at:
        talk(at, NEW)
        assert at.end() == 0
    for kind, lines, code in ADDED:
        with terminal("kb", "add", kind, "--kb", str(folder)) as at:
            talk(at, lines)
            assert at.end() == code, plain(at.text)[-2000:]
    return folder


def test_coffee(coffee: Path, run: Run, terminal: At) -> None:
    """It is in order, ranks causes sensibly, its case comes out, and the dialogue can be walked to its end."""
    checked = run("kb", "check", str(coffee))
    assert checked.returncode == 0, checked.stdout
    done = run("diagnose", "--kb", str(coffee), "--answer", "power-lamp=glows", "--answer", "pump-sound=rattling", "--json")
    assert done.returncode == 0, done.stderr
    causes = json.loads(done.stdout)["causes"]
    assert causes[0]["id"] == "tank-empty"
    assert run("kb", "try", "--kb", str(coffee)).returncode == 0
    with terminal("diagnose", "--kb", str(coffee)) as at:
        at.prompt()
        assert "Does the power lamp glow?" in plain(at.text)
        assert "Use another socket that works" in at.say("2")
        assert "What does the pump sound like?" not in at.text  # the rule closed it
        end = at.say("1")
        assert "Three cups in a row come out hot." in plain(end)
    for word in ("POST", "PC", "firmware", "screen"):
        assert f" {word} " not in plain(at.text)
