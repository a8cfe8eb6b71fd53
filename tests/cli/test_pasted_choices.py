"""Several lines at once at a terminal that does not mark a paste: none of them is a choice, whatever the first one is."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from cli.terminal import Terminal, plain, words
from nopost.diagnosis.history import Event
from nopost.knowledge.model import Knowledge
from nopost.store.sessions import load

Spawn = Callable[..., Terminal]
UNMARKED = {"INPUTRC": "/dev/null", "TERM": "dumb"}
NONE_TAKEN = "none of them was taken"


def events(knowledge: Knowledge) -> tuple[Event, ...]:
    """What the session holds on disk."""
    return load("bench", knowledge).history.events


@pytest.mark.slow
@pytest.mark.parametrize("pasted", ["1\n2\n3\n", "1\nwhat I saw\n", "1\n" * 500, "q\n1\n"])
def test_first_line_is_no_choice(terminal: Spawn, knowledge: Knowledge, pasted: str) -> None:
    """A choice, a key or many lines: nothing is answered, and the step stands as it was."""
    with terminal("diagnose", "--name", "bench", env=UNMARKED) as t:
        t.prompt()
        begin = len(t.text)
        t.type(pasted)
        t.wait_for(NONE_TAKEN, begin)
        t.prompt(begin)
        assert events(knowledge) == ()
        assert ", step 1" in plain(t.text[begin:])
        t.say("1")
        assert len(events(knowledge)) == 1
        t.say("q")
        assert t.end() == 0


@pytest.mark.slow
def test_codes_that_begin_like_a_choice(terminal: Spawn, knowledge: Knowledge) -> None:
    """A log whose first line is the number of a choice is read as codes."""
    with terminal("diagnose", "--name", "bench", env=UNMARKED) as t:
        t.prompt()
        begin = len(t.text)
        t.type("1\n60\n61\n62\n55\n")
        t.wait_for("Read as codes", begin)
        t.prompt(begin)
        t.say("q")
        assert t.end() == 0
    assert [event.item for event in events(knowledge)][:1] != ["danger-signs"]


@pytest.mark.slow
@pytest.mark.parametrize("way", ["o", "t", "w"])
def test_within_a_page(terminal: Spawn, knowledge: Knowledge, way: str) -> None:
    """On a page or in a list beside the step a paste chooses nothing either, nor does its last line at the step behind it."""
    with terminal("diagnose", "--name", "bench", "--ask", "--answer", "danger-signs=none", env=UNMARKED) as t:
        t.prompt()
        t.say(way)
        begin = len(t.text)
        t.type("1\n1\n")
        t.wait_for(NONE_TAKEN, begin)
        t.prompt(begin)
        t.say("q")
        assert t.end() == 0
    assert [event.item for event in events(knowledge)] == ["danger-signs"]


@pytest.mark.slow
def test_enter_twice_is_one_answer(terminal: Spawn, knowledge: Knowledge) -> None:
    """An empty line behind the choice, as from a key held too long or a paste that ends with one, is nothing."""
    with terminal("diagnose", "--name", "bench", env=UNMARKED) as t:
        t.prompt()
        begin = len(t.text)
        t.type("1\n\n")
        t.prompt(begin)
        while len(events(knowledge)) < 1:
            t.prompt(len(t.text))
        t.say("q")
        assert t.end() == 0
    assert NONE_TAKEN not in words(t.text)
    assert [(e.item, e.value) for e in events(knowledge)] == [("danger-signs", "none")]
