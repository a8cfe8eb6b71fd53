"""What is said when the machine works again: it agrees with what was done, and leaves open what nobody can tell."""

from __future__ import annotations

from dataclasses import replace

import small
from nopost.diagnosis.diagnose import Diagnostician, diagnose
from nopost.diagnosis.end_view import repaired_causes, repaired_view
from nopost.diagnosis.history import EventKind, History
from nopost.knowledge.model import Knowledge


def two_causes() -> Knowledge:
    """Loose modules are common and also mended by moving them; wrong slots are rare."""
    findings = [small.finding("lamp", {"no": 0.5, "yes": 0.5})]
    causes = [
        small.cause("loose", 90.0, {}, {"press": 0.9, "move": 0.7}),
        small.cause("wrong-slots", 10.0, {}, {"move": 0.9, "press": 0.5}),
        small.cause("dirt", 5.0, {}, {"press": 0.85}),
    ]
    return small.knowledge(findings, causes, [small.fix(name, 5.0) for name in ("press", "move", "pray")])


def test_the_verdict_agrees_with_what_was_done() -> None:
    """Who moved the modules is told of the slots, though loose ones are nine times as common and mended by that as well."""
    knowledge = two_causes()
    found = diagnose(knowledge, History())
    assert repaired_causes(knowledge, found, ["move"]).likeliest == "wrong-slots"
    assert repaired_causes(knowledge, found, ["move"]).possible == ()
    assert repaired_causes(knowledge, found, ["press"]).likeliest == "loose"
    assert repaired_causes(knowledge, found, ["press", "move"]).likeliest == "loose"


def test_a_fix_that_is_meant_for_nothing_leaves_all() -> None:
    """Then the belief itself is asked."""
    knowledge = two_causes()
    assert repaired_causes(knowledge, diagnose(knowledge, History()), ["pray"]).likeliest == "loose"


def test_moved_memory_was_in_the_wrong_slots(diagnostician: Diagnostician) -> None:
    """In the shipped knowledge moving the memory never ends as a module that was not pushed home."""
    told = {"danger-signs": "none", "occasion": "after-memory-change", "response": "runs", "screen": "no-signal"}
    history = History()
    for finding, answer in told.items():
        history = history.add(EventKind.ANSWER, finding, answer)
    found = repaired_causes(diagnostician.knowledge, diagnostician.diagnose(history), ["move-memory"])
    assert found.likeliest == "memory-wrong-slots"
    assert "memory-not-seated" not in found.possible


def test_all_that_was_done_is_named_and_an_open_end_names_no_cause() -> None:
    """Both fixes of one go, the one that changed something before, and not the one in vain."""
    knowledge = two_causes()
    actions = {name: replace(action, title=name.title()) for name, action in knowledge.actions.items()}
    knowledge = replace(knowledge, actions=actions)
    history = History()
    for fix, outcome in (("pray", "changed"), ("press", "starts"), ("move", "starts")):
        history = history.add(EventKind.TRIED, fix, outcome)
    view = repaired_view(knowledge, history, "", ["loose", "wrong-slots"])
    assert (view.before, view.done) == (("Pray",), ("Press", "Move"))
    assert view.cause is None
    assert [cause.id for cause in view.possible] == ["loose", "wrong-slots"]
    closed = repaired_view(knowledge, history, "loose")
    assert closed.cause is not None
    assert closed.cause.id == "loose"
