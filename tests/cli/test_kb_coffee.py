"""A knowledge base for coffee machines, from an empty folder, by the guided commands alone: nothing is wired to PCs."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from cli.guided_talk import Talk, talk
from cli.manual_blocks import MANUAL, Block, blocks, missing
from cli.terminal import Terminal, nopost, plain, words
from nopost_cli.kb.forms.item_form import ItemForm

Run = Callable[..., CompletedProcess[str]]
At = Callable[..., Terminal]
COFFEE = Path(__file__).resolve().parent / "coffee_kb"
"""The same base as files; the manual's commands run on it."""

SOURCE = [("Source [judgement]", "")]
EFFORT = [("Minutes of work", "2"), ("Money spent", ""), ("Risk", "")]

NEW = [
    ("Its name", "Why the coffee machine gives no coffee"),
    ("when it is mended", "It gives coffee"),
    ("while it is not", "It gives no coffee"),
    ("as a headline", "A coffee machine without coffee"),
    ("within a sentence", "coffee machines without coffee"),
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
    ("by their part or tool", "y"),
    ("Parts:", "boiler"),
    ("Power [any]", "off"),
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
    ("Something rarer", "y"),
    ("has no such thing", "This machine has no lamp"),
    ("only once a rule opens it", ""),
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
    ("Something rarer", ""),
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
    ("Something rarer", ""),
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
    ("Something rarer", "y"),
    ("Finding [-]", "pump-sound"),
    ("Answer:", "silent"),
    ("Finding [-]", ""),
    ("only once a rule opens it", ""),
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


DRAFT = "question: What\ntitle: What\nid: what\npart: pump\ncombine: graded\nanswers: [1, 2]\n"


@dataclass(frozen=True, slots=True)
class Built:
    """The knowledge base, and all that stood on screen while it was built."""

    folder: Path
    screens: str


@pytest.fixture
def coffee(terminal: At, tmp_path: Path) -> Built:
    """The knowledge base, built at a terminal."""
    folder, screens = tmp_path / "coffee", ""
    for kind, lines, code in [("", NEW, 0), *ADDED]:
        asked = ("kb", "add", kind, "--kb", str(folder)) if kind else ("kb", "new", "--empty", str(folder))
        with terminal(*asked, columns=200) as at:
            talk(at, lines)
            assert at.end() == code, plain(at.text)[-2000:]
            screens += plain(at.text)
    return Built(folder, screens.replace(str(folder), "coffee"))


@pytest.mark.slow
def test_coffee(coffee: Built, run: Run, terminal: At) -> None:
    """It is in order, ranks causes sensibly, its case comes out; diagnosis and exercise can be walked to their ends."""
    own = str(coffee.folder)
    built = {path.relative_to(COFFEE): path.read_text(encoding="utf-8") for path in COFFEE.rglob("*.yaml")}
    assert {name: (coffee.folder / name).read_text(encoding="utf-8") for name in built} == built
    done = run("diagnose", "--kb", own, "--answer", "power-lamp=glows", "--answer", "pump-sound=rattling", "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["causes"][0]["id"] == "tank-empty"
    with terminal("diagnose", "--kb", own, "--name", "kitchen") as at:
        at.prompt()
        assert "Does the power lamp glow?" in plain(at.text)
        said = at.say("2")
        assert "Use another socket that works" in said
        assert "It gives no coffee, but something else is seen now" in plain(said)
        assert "What does the pump sound like?" not in at.text  # the rule closed it
        end = plain(at.say("it gives coffee"))
        assert "Three cups in a row come out hot." in end
    report = run("report", "kitchen", "--kb", own).stdout
    assert report.startswith("# A coffee machine without coffee: kitchen")
    assert "Use another socket that works: it gives coffee" in report
    with terminal("drill", "--kb", own, "--seed", "3") as drilled:
        drilled.prompt()
        for line in ("?", "tank", "1", "tank", "1"):
            drilled.say(line)
        assert drilled.end() == 0
    assert f"nopost drill --level first --seed 3 --kb {own}" in words(drilled.text)
    assert "It gives coffee. What was it?" in plain(drilled.text)
    for word in ("POST", "PC", "firmware", "screen", "dead", "start", "starts"):
        assert f" {word} " not in plain(at.text + drilled.text) + report
    assert [line for block in talks() for line in missing(block, coffee.screens)] == []


def talks() -> list[Block]:
    """What the manual's section on adding shows of the questions, word for word; but of the session that a case is made of."""
    text = (MANUAL / "trainer.md").read_text(encoding="utf-8")
    section = text[text.index("## Add") : text.index("## Check")]
    found = [b for b in blocks("trainer.md") if b.kind == "text" and b.lines[0] in section and "session" not in b.lines[0]]
    assert len(found) >= 4
    return found


def test_from_the_folder_itself(run: Run, tmp_path: Path) -> None:
    """The commands for trainers take the knowledge base that lies where they are called."""
    shutil.copytree(COFFEE, tmp_path / "here")
    for asked in (("check",), ("try",), ("simulate", "--runs", "2", "--strategies", "advice"), ("draw", "map", "--out", "m.svg")):
        done = nopost("kb", *asked, home=tmp_path, cwd=tmp_path / "here")
        assert done.returncode == 0, done.stderr
        assert "PC" not in done.stdout


@pytest.mark.slow
@pytest.mark.parametrize(
    ("kind", "text", "said"),
    [
        ("cause", "title: [", "cannot be read"),
        ("cause", "- 1\n", "cannot be read"),
        ("cause", "title: 5\n", "cannot be read"),
        ("cause", "shows-begun: [1]\n", "cannot be read"),
        ("finding", DRAFT, "does not fit together"),
    ],
)
def test_a_draft_edited_into_nonsense(terminal: At, home: Path, tmp_path: Path, kind: str, text: str, said: str) -> None:
    """One line, and the draft stays under another name."""
    base = Path(shutil.copytree(COFFEE, tmp_path / "here"))
    draft = ItemForm(base, kind).draft.path
    draft.parent.mkdir(parents=True)
    draft.write_text(text, encoding="utf-8")
    with terminal("kb", "add", kind, "--kb", str(base), columns=200) as at:
        if said == "does not fit together":
            talk(at, [("Go on with it?", "")])
        at.wait_for("it stays as")
        at.wait_for("Begin again")
    assert said in words(at.text)
    assert "Traceback" not in at.text
    assert (draft.parent / f"{draft.stem}.unread-1.yaml").read_text(encoding="utf-8") == text
