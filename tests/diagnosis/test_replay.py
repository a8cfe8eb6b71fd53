"""Replay: what the events of a session amount to as observations."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

import small
from nopost.diagnosis.belief.evidence import Report
from nopost.diagnosis.history import End, EventKind, History, case_history, check_answer, check_tried, possible_answers
from nopost.diagnosis.replay import replay
from nopost.errors import UnknownNameError
from nopost.knowledge.model import ABSENT, UNKNOWN, Case, Knowledge

Steps = list[tuple[EventKind, str, str]]

LAMP = small.finding("lamp", {"lit": 0.5, "dark": 0.5})
SOUND = small.finding("sound", {"quiet": 0.5, "loud": 0.5})


def small_base() -> Knowledge:
    """Two findings; the fix "press" changes what the lamp shows, the fix "wait" changes nothing."""
    press = replace(small.fix("press", 1.0), after=("lamp",))
    cause = small.cause("loose", 1.0, {"lamp": {"lit": 0.1, "dark": 0.9}}, {"press": 0.9, "wait": 0.1})
    return small.knowledge([LAMP, SOUND], [cause], [press, small.fix("wait", 1.0)])


BASE = small_base()


def session_of(*steps: tuple[EventKind, str, str]) -> History:
    """A session with these events."""
    session = History()
    for kind, item, value in steps:
        session = session.add(kind, item, value)
    return session


def answered(item: str, value: str) -> tuple[EventKind, str, str]:
    """An answer."""
    return EventKind.ANSWER, item, value


def tried(item: str, value: str) -> tuple[EventKind, str, str]:
    """A fix that was tried."""
    return EventKind.TRIED, item, value


def test_answers_in_order() -> None:
    """Answers become reports; before any fix all are of the first epoch."""
    seen = replay(session_of(answered("lamp", "dark"), answered("sound", "loud")), BASE)
    assert seen.reports == (Report("lamp", "dark", 0), Report("sound", "loud", 0))
    assert seen.current() == {"lamp": "dark", "sound": "loud"}
    assert seen.asked() == {"lamp", "sound"}


def test_epochs_count_the_fixes() -> None:
    """An answer after a fix is of a later epoch, whatever came of the fix."""
    seen = replay(
        session_of(answered("lamp", "dark"), tried("wait", "same"), answered("lamp", "lit"), tried("press", "changed")), BASE
    )
    assert seen.reports == (Report("lamp", "dark", 0), Report("lamp", "lit", 1))
    assert seen.tried == ("wait", "press")


@pytest.mark.parametrize(("outcome", "stale"), [("changed", {"lamp"}), ("same", set()), ("starts", set())])
def test_only_a_change_makes_stale(outcome: str, stale: set[str]) -> None:
    """After 'something else is seen' what the fix touches is asked again; nothing else is."""
    seen = replay(session_of(answered("lamp", "dark"), answered("sound", "loud"), tried("press", outcome)), BASE)
    assert seen.stale == stale
    assert seen.asked() == {"lamp", "sound"} - stale
    assert seen.outdated == (frozenset() if outcome == "starts" else {"lamp"})
    assert set(seen.current()) == {"lamp", "sound"} - seen.outdated


def test_what_was_put_right_can_be_told_anew() -> None:
    """How a part sits is outdated by a fix of it until it is looked at again."""
    events = (answered("lamp", "dark"), tried("press", "same"), answered("lamp", "lit"))
    assert replay(session_of(*events), BASE).current() == {"lamp": "lit"}


def test_what_was_never_asked_is_not_stale() -> None:
    """A change makes nothing stale that nobody has answered."""
    assert replay(session_of(answered("sound", "loud"), tried("press", "changed")), BASE).stale == frozenset()


def test_asked_again() -> None:
    """A new answer takes the place of the stale one; both count, as two epochs."""
    seen = replay(session_of(answered("lamp", "dark"), tried("press", "changed"), answered("lamp", "lit")), BASE)
    assert seen.stale == frozenset()
    assert seen.current() == {"lamp": "lit"}
    assert seen.telling() == (Report("lamp", "dark", 0), Report("lamp", "lit", 1))


@pytest.mark.parametrize("outcome", ["same", "changed"])
def test_same_answer_again_is_no_new_evidence(outcome: str) -> None:
    """The lamp is still dark after the fix: that was counted already."""
    seen = replay(session_of(answered("lamp", "dark"), tried("press", outcome), answered("lamp", "dark")), BASE)
    assert seen.telling() == (Report("lamp", "dark", 0),)


def test_correction_replaces() -> None:
    """Two answers with no fix between: the person has corrected themselves."""
    seen = replay(session_of(answered("lamp", "dark"), answered("lamp", "lit")), BASE)
    assert seen.telling() == (Report("lamp", "lit", 0),)


@pytest.mark.parametrize("silent", [UNKNOWN, ABSENT])
def test_silent_answers_tell_nothing(silent: str) -> None:
    """'Can't tell' and 'not there' are no evidence, also when they take back an answer; they are not asked again."""
    seen = replay(session_of(answered("lamp", "dark"), answered("lamp", silent)), BASE)
    assert seen.telling() == ()
    assert seen.asked() == {"lamp"}
    assert seen.current() == ({} if silent == UNKNOWN else {"lamp": ABSENT})


def test_skipped_is_not_tried() -> None:
    """An action the person cannot do is only left out."""
    seen = replay(session_of((EventKind.SKIPPED, "press", "")), BASE)
    assert (set(seen.skipped), seen.tried) == ({"press"}, ())


def test_start_is_not_a_failed_fix() -> None:
    """What brought the machine up is not held against itself when the session goes on."""
    assert replay(session_of(tried("press", "starts")), BASE).tried == ()


def test_going_on_takes_the_end_back() -> None:
    """An answer after the end opens the session again."""
    session = session_of(answered("lamp", "dark"), (EventKind.END, "loose", End.SHOP))
    assert session.end is not None
    again = session.add(*answered("sound", "loud"))
    assert again.end is None
    assert [event.kind for event in again.events] == [EventKind.ANSWER, EventKind.ANSWER]


def steps() -> st.SearchStrategy[Steps]:
    """Any course of a session on the small base."""
    answers = [answered(f.id, a) for f in (LAMP, SOUND) for a in (*f.answer_ids, UNKNOWN)]
    fixes = [tried(a, outcome) for a in ("press", "wait") for outcome in ("same", "changed", "starts")]
    return st.lists(st.sampled_from([*answers, *fixes, (EventKind.SKIPPED, "wait", "")]), max_size=12)


@pytest.mark.slow
@given(steps(), st.integers(0, 12))
def test_undo(course: Steps, count: int) -> None:
    """Undone events leave no trace; more undos than events do no harm."""
    session = session_of(*course)
    for _ in range(count):
        session = session.undo()
    kept = course[: max(0, len(course) - count)]
    assert replay(session, BASE) == replay(session_of(*kept), BASE)


@pytest.mark.slow
@given(steps())
def test_replay_is_sound(course: Steps) -> None:
    """What holds for every course: no silent or repeated evidence, and stale or asked, never both."""
    seen = replay(session_of(*course), BASE)
    assert not seen.stale & seen.asked()
    assert set(seen.current()) <= seen.asked()
    last: dict[str, str] = {}
    for report in seen.telling():
        assert report.answer != UNKNOWN
        assert last.get(report.finding) != report.answer
        last[report.finding] = report.answer
    assert len(seen.tried) == sum(1 for kind, _, value in course if kind is EventKind.TRIED and value != "starts")


def test_case_as_observations() -> None:
    """A case: what was tried before, then what is seen; a fix that worked did not fail."""
    case = Case("c", "C", {"lamp": "dark"}, (("wait", "same"), ("press", "starts")), {}, {})
    seen = replay(case_history(case), BASE)
    assert (seen.reports, seen.tried, seen.facts) == ((Report("lamp", "dark", 1),), ("wait",), {})


def test_checks_of_names() -> None:
    """A finding, an answer, a fix or an outcome that is not known is refused with the nearest ones."""
    check_answer(BASE, "lamp", "dark")
    check_answer(BASE, "lamp", UNKNOWN)
    check_tried(BASE, "press", "changed")
    for bad, near in [(("lam", "dark"), "lamp"), (("lamp", "drak"), "dark"), (("lamp", ABSENT), "")]:
        with pytest.raises(UnknownNameError) as caught:
            check_answer(BASE, *bad)
        assert caught.value.nearest[:1] == ((near,) if near else ())
    for bad, near in [(("pres", "same"), "press"), (("press", "sam"), "same")]:
        with pytest.raises(UnknownNameError) as caught:
            check_tried(BASE, *bad)
        assert caught.value.nearest[0] == near


def test_absent_only_where_it_can_be() -> None:
    """'Not there' is an answer only to a finding that says what that looks like."""
    assert possible_answers(LAMP) == ("lit", "dark", UNKNOWN)
    assert possible_answers(replace(LAMP, absent="There is no lamp")) == ("lit", "dark", UNKNOWN, ABSENT)


@pytest.mark.parametrize(
    ("outcomes", "unchanged"), [(("same", "changed"), {1}), (("changed", "same"), {2}), (("same", "same"), {1, 2})]
)
def test_fixes_that_changed_nothing_are_remembered(outcomes: tuple[str, str], unchanged: set[int]) -> None:
    """So that what was seen before them still stands, in a session and in a case."""
    pairs = tuple(zip(("press", "wait"), outcomes, strict=True))
    assert replay(session_of(*(tried(*pair) for pair in pairs)), BASE).unchanged == unchanged
    case = Case("c", "C", {"lamp": "dark"}, (("press", "starts"), *pairs), {}, {})
    assert replay(case_history(case), BASE).unchanged == unchanged
