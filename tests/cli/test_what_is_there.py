"""The screen of what is there: before the first step, and later with its key; options, and what they mean."""

from __future__ import annotations

import json
import re
from collections.abc import Callable

import pytest

from cli.terminal import Terminal, plain, words
from nopost.diagnosis.inventory import EntryView
from nopost.knowledge.model import Effort, Tool
from nopost.store.sessions import Session, load
from nopost_cli.dialogue.inventory_screen import read_inventory, read_tools

Run = Callable[..., object]
ENTRIES = (
    EntryView("sail", "A sail", (("yes", "it is"), ("no", "none"))),
    EntryView("masts", "Masts", (("one", "one"), ("two", "two"), ("more", "more"))),
)
TOOLS = {"rope": Tool("A rope", Effort(1.0)), "knife": Tool("A knife", Effort(1.0))}


@pytest.mark.parametrize(
    ("typed", "there"),
    [
        ("1a", {"sail": "yes"}),
        ("1B 2c", {"sail": "no", "masts": "more"}),
        (" 2b,1a; ", {"masts": "two", "sail": "yes"}),
        ("1a2a", {"sail": "yes", "masts": "one"}),
        ("1-", {"sail": ""}),
        ("1 a", {"sail": "yes"}),
    ],
)
def test_pairs(typed: str, there: dict[str, str]) -> None:
    """Numbers with letters, parted by anything or nothing."""
    assert read_inventory(typed, ENTRIES).told == there


@pytest.mark.parametrize(
    ("typed", "reply"), [("3a", "from 1 to 2"), ("1c", "from a to b"), ("2", "such as 2a"), ("0a", "no number 0")]
)
def test_mistakes_are_told(typed: str, reply: str) -> None:
    """And nothing is taken of the line."""
    told = read_inventory(typed, ENTRIES)
    assert reply in told.reply
    assert not told.told
    assert not told.other


@pytest.mark.parametrize("typed", ["q", "?", "POST code 55", "0x55", "no idea", "1a x"])
def test_other_lines_are_for_the_step(typed: str) -> None:
    """Keys, codes and words are no pairs."""
    assert read_inventory(typed, ENTRIES).other


def test_tools_are_taken_and_put_back() -> None:
    """A number takes a tool, the same again puts it back; a wrong one changes nothing."""
    assert read_tools("1 2", TOOLS, ()) == (frozenset({"rope", "knife"}), "")
    assert read_tools("1", TOOLS, {"rope"}) == (frozenset(), "")
    have, wrong = read_tools("1 3", TOOLS, {"knife"})
    assert have == {"knife"}
    assert "from 1 to 2" in wrong
    assert read_tools("", TOOLS, {"rope"}) == (frozenset({"rope"}), "")


def kept() -> Session:
    """The session on disk."""
    from nopost.loading import load_knowledge

    return load("bench", load_knowledge(None))


@pytest.mark.slow
def test_asked_once_before_the_first_step(terminal: Callable[..., Terminal]) -> None:
    """All on one screen of 24 rows; what is told is kept, shown, can be changed later, and is not asked again."""
    with terminal("diagnose", "--name", "bench", columns=80, there=True) as t:
        screen = plain(t.prompt())
        assert "What is there" in screen
        assert screen.count("\n") < 24
        number = dict(re.findall(r"^ +(\d+) (\w+ \w+)", screen, re.MULTILINE))
        card = next(n for n, question in number.items() if question == "Graphics card")
        assert "[b none]" in plain(t.say(f"{card}b"))
        assert "Tools and spares" in t.say("t")
        assert "Cross-head screwdriver" in words(t.say("1"))
        assert "step 1" in words(t.say(""))
        assert "[b none]" in plain(t.say("m"))
        assert "[b none]" not in plain(t.say(f"{card}-"))
        t.say(f"{card}a")
        t.say("q")
        assert t.end() == 0
    parts = kept().history.parts
    assert parts.there == {"has-card": "yes"}
    assert parts.at_hand == {"screwdriver"}
    with terminal("resume", "bench") as t:
        assert "What is there —" not in words(t.prompt())


@pytest.mark.slow
def test_told_by_options(run: Callable[..., object], terminal: Callable[..., Terminal]) -> None:
    """--there tells it, is checked, is in the JSON, and spares the screen."""
    done = run("diagnose", "--answer", "response=runs", "--there", "has-card=no", "--json")
    found = json.loads(done.stdout)  # type: ignore[attr-defined]
    assert found["facts"]["has-card"] == "no"
    entry = next(each for each in found["there"] if each["id"] == "has-card")
    assert (entry["told"], entry["by"]) == ("no", "person")
    assert found["areas"][0]["probability"] >= found["areas"][-1]["probability"]
    for wrong, said in (("has-card=perhaps", "perhaps"), ("has-cart=no", "has-card"), ("has-card", "NAME=VALUE")):
        failed = run("diagnose", "--answer", "response=runs", "--there", wrong)
        assert failed.returncode == 1  # type: ignore[attr-defined]
        assert said in failed.stderr  # type: ignore[attr-defined]
    with terminal("diagnose", "--name", "bench", "--there", "has-card=no", there=True) as t:
        assert "step 1" in words(t.prompt())


@pytest.mark.slow
def test_a_report_says_what_is_there(run: Callable[..., object], terminal: Callable[..., Terminal]) -> None:
    """With who told it, and the areas above the causes."""
    with terminal("diagnose", "--name", "bench", "--ask", "--there", "has-card=no", "--answer", "stage-lamp=absent") as t:
        t.prompt()
        t.say("q")
    text = run("report", "bench").stdout  # type: ignore[attr-defined]
    assert "Graphics card: none" in text
    assert "Stage lamps on the board: none (by an answer)" in text
    assert text.index("Where the trouble is") < text.index("Most probable causes")
