"""Ids that were split or renamed: what old cases, sheets and sessions mean by them."""

from __future__ import annotations

from dataclasses import replace

import pytest

import small
from nopost.diagnosis.history import Event, EventKind, renamed_event
from nopost.knowledge.build import renamed
from nopost.knowledge.model import ABSENT, UNKNOWN, Case, Combine, Knowledge, RenamedKind
from nopost.knowledge.renamed import current_names, renamed_case, what_became

LAMP = small.finding("lamp", {"dark": 0.5, "lit": 0.5}, Combine.EITHER)
STRIP = replace(small.finding("strip", {"dark": 0.5, "lit": 0.4, "blinks": 0.1}, Combine.EITHER), absent="There is none")
OLD = {
    "findings": {"light": ["lamp", "strip"], "glow": ["lamp"]},
    "answers": {"lamp": {"off": ["dark"], "on": ["lit"], "odd": ["dark", "lit"]}},
    "causes": {"bad": ["loose", "dead"], "unplugged": ["loose"], "dead": ["dead", "loose"]},
    "actions": {"mend": ["press", "swap"], "push": ["press"], "swap": ["swap", "press"]},
}


def base() -> Knowledge:
    """Two findings, causes and fixes, with old ids for each."""
    causes = [
        small.cause(name, 10.0, {"lamp": {"dark": 1.0}}, {fix: 0.9}) for name, fix in (("loose", "press"), ("dead", "swap"))
    ]
    fixes = [small.fix("press", 1.0), small.fix("swap", 1.0)]
    return replace(small.knowledge([LAMP, STRIP], causes, fixes), renamed=renamed(OLD))


@pytest.mark.parametrize(
    ("name", "answer", "now"),
    [
        ("light", "dark", [("lamp", "dark"), ("strip", "dark")]),  # to each that can have it
        ("light", "blinks", [("strip", "blinks")]),
        ("light", "off", [("lamp", "dark")]),  # by the map of one
        ("light", ABSENT, [("strip", ABSENT)]),  # only one of them can be lacking
        ("light", UNKNOWN, [("lamp", UNKNOWN), ("strip", UNKNOWN)]),
        ("light", "purple", []),
        ("lamp", "off", [("lamp", "dark")]),  # the finding kept its id, its answer did not
        ("lamp", "odd", []),  # which of the two nobody knows
        ("lamp", "purple", [("lamp", "purple")]),  # not renamed: for the caller's check
        ("horn", "loud", [("horn", "loud")]),
    ],
)
def test_answers(name: str, answer: str, now: list[tuple[str, str]]) -> None:
    """An old answer goes to each new finding that can have it."""
    assert list(current_names(base(), RenamedKind.FINDING, name, answer)) == now


def test_causes_and_fixes() -> None:
    """Each new one; what is not renamed stays."""
    assert current_names(base(), RenamedKind.CAUSE, "bad") == (("loose", ""), ("dead", ""))
    assert current_names(base(), RenamedKind.ACTION, "mend") == (("press", ""), ("swap", ""))
    assert current_names(base(), RenamedKind.ACTION, "press") == (("press", ""),)


@pytest.mark.parametrize(
    ("event", "item", "value", "told"),
    [
        (Event(EventKind.ANSWER, "glow", "off"), "lamp", "dark", ""),
        (Event(EventKind.ANSWER, "light", "blinks"), "strip", "blinks", ""),
        (Event(EventKind.ANSWER, "light", "dark"), "light", "dark", "light=dark became lamp and strip"),
        (Event(EventKind.ANSWER, "lamp", "odd"), "lamp", "odd", "the answer odd to lamp became dark and lit"),
        (Event(EventKind.TRIED, "push", "same"), "press", "same", ""),
        (Event(EventKind.SKIPPED, "push"), "press", "", ""),
        (Event(EventKind.TRIED, "mend", "same"), "mend", "same", "mend became press and swap"),
        (Event(EventKind.END, "unplugged", "starts"), "loose", "starts", ""),
        (Event(EventKind.END, "bad", "starts"), "bad", "starts", "bad became loose and dead"),
        (Event(EventKind.TRIED, "swap", "same"), "swap", "same", ""),  # split, and one of its own parts
        (Event(EventKind.END, "dead", "starts"), "dead", "starts", ""),
        (Event(EventKind.CODES, "", "", "", "55"), "", "", ""),
        (Event(EventKind.ANSWER, "horn", "loud"), "horn", "loud", ""),  # left for the check of events
    ],
)
def test_events_of_a_session(event: Event, item: str, value: str, told: str) -> None:
    """One event has one id: the new one when just one fits, else the event is told."""
    now, said = renamed_event(event, base())
    assert (now.item, now.value) == (item, value)
    assert said.startswith(told) if told else said == ""
    assert now.text == event.text


def test_case() -> None:
    """A case's own answer to a new finding goes before an old one; what became several keeps its old id."""
    case = Case(
        "c", "C", {"light": "dark", "strip": "lit"}, (("push", "same"), ("mend", "same")), {}, {"cause": "bad"}, causes=("bad",)
    )
    now = renamed_case(base(), case)
    assert now.answers == {"lamp": "dark", "strip": "lit"}
    assert now.tried == (("press", "same"), ("mend", "same"))
    assert (now.expect["cause"], now.causes) == ("bad", ("loose", "dead"))
    assert renamed_case(base(), replace(case, expect={"cause": "unplugged"})).expect["cause"] == "loose"
    assert renamed_case(replace(base(), renamed=renamed({})), case) is case


def test_what_became_of_nothing() -> None:
    """What was never renamed became nothing else."""
    assert what_became(base(), RenamedKind.FINDING, "horn", "loud") == ""
