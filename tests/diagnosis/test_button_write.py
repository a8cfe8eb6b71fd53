"""A write with the button that came to nothing: it leads back into diagnosis, and each slip is told from the others.

What the lamp and the stick show is common practice, no source; the order of the questions is judgement.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from nopost.diagnosis.belief.evidence import Observations
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.history import EventKind, History, Parts
from nopost.diagnosis.parts_facts import facts_of
from nopost.diagnosis.replay import replay

BUTTON = "write-firmware-button"
SLIPS = {
    "button-file-name-wrong": ("name-write-file", {"write-lamp": "soon-steady", "write-file-name": "other-name"}),
    "button-file-system-wrong": ("format-write-stick", {"write-lamp": "soon-out", "write-stick-format": "other-system"}),
    "button-wrong-socket": ("use-write-socket", {"write-lamp": "soon-out", "write-socket": "other-socket"}),
    "button-no-power": ("power-the-write", {"write-lamp": "dark", "write-power": "lacking"}),
    "button-file-refused": ("fetch-exact-file", {"write-lamp": "soon-steady", "firmware-file": "other-variant"}),
    "button-stick-not-read": (
        "use-plain-stick",
        {
            "write-lamp": "soon-steady",
            "write-file-name": "exact",
            "write-stick-format": "fat",
            "write-socket": "marked",
            "firmware-file": "exact-variant",
            "write-stick-kind": "large-or-new",
        },
    ),
}
"""Slip -> what puts it right, and what is seen of it."""


def seen(diagnostician: Diagnostician, answers: dict[str, str], *, tried: bool = True, records: bool = True) -> Observations:
    """A new build on an old release; the write with the button was tried in vain."""
    parts = {"board": "tb-breakwater-x1", "firmware": "1.9", "cpu": "wrack-820"} if records else {}
    knowledge = diagnostician.knowledge
    session = History(Parts.of_records(parts))
    first = {"danger-signs": "none", "occasion": "new-build", "response": "runs", "screen": "no-signal", "mishap": "none"}
    for finding, answer in first.items():
        session = session.add(EventKind.ANSWER, finding, answer)
    if tried:
        session = session.add(EventKind.TRIED, BUTTON, "same")
    for finding, answer in answers.items():
        session = session.add(EventKind.ANSWER, finding, answer)
    return replay(session, knowledge)


def share(assessment: Diagnosis, causes: object = SLIPS) -> float:
    """Probability of all slips together, pairs aside."""
    assert hasattr(causes, "__contains__")
    return sum(p for cause, p in assessment.ranking if cause in causes)


def test_failed_write_asks_for_the_lamp(diagnostician: Diagnostician) -> None:
    """'It does not start' after the button is followed by what its lamp did, and the same write is not offered again."""
    found = diagnostician.assess(seen(diagnostician, {}))
    assert found.advice.step.id == "write-lamp"
    assert BUTTON not in {step.id for step in found.advice.others}


@pytest.mark.slow
@pytest.mark.parametrize("slip", SLIPS)
@pytest.mark.parametrize("records", [True, False], ids=["records", "no records"])
def test_each_slip_leads_among_the_slips(diagnostician: Diagnostician, slip: str, records: bool) -> None:
    """What is seen on lamp and stick tells the slips apart; with the records of the parts the slip leads all causes."""
    fix, answers = SLIPS[slip]
    found = diagnostician.assess(seen(diagnostician, answers, records=records))
    order = [cause for cause, _ in found.ranking]
    assert next(cause for cause in order if cause in SLIPS) == slip
    if records:
        assert order[0] == slip
        assert fix in [action for action, _ in found.advice.plan][:2]


def test_slips_sleep_until_a_write_was_tried(diagnostician: Diagnostician) -> None:
    """Without a try they are next to nothing, even when the firmware is too old for the CPU; a try wakes them."""
    asleep = share(diagnostician.assess(seen(diagnostician, {}, tried=False)))
    awake = share(diagnostician.assess(seen(diagnostician, {})))
    assert asleep < 0.03 < 0.25 < awake


def test_a_write_that_ended_well_clears_them(diagnostician: Diagnostician) -> None:
    """The lamp blinked to its end: the file was taken, and nobody asks for stick and socket any more."""
    found = diagnostician.assess(seen(diagnostician, {"write-lamp": "ends"}))
    assert share(found) < 0.05
    offered = {step.id for step in (found.advice.step, *found.advice.others)}
    assert not offered & {"write-file-name", "write-stick-format", "write-socket", "write-power", "write-stick-kind"}


def test_no_button_no_slips(diagnostician: Diagnostician) -> None:
    """By the record the board has no such button: they are impossible, whatever was told."""
    parts = {"board": "tb-harbour-m2", "firmware": "0.94", "cpu": "kelp-450"}
    facts = facts_of(Parts.of_records(parts), diagnostician.knowledge).facts
    found = diagnostician.assess(replace(seen(diagnostician, {"write-lamp": "dark"}), facts=facts))
    assert set(SLIPS) <= set(found.inference.ruled_out)


def test_doing_it_tells_that_it_was_done(diagnostician: Diagnostician) -> None:
    """A fix done in vain tells what it `tells`, over what was said before; taken back, it tells nothing."""
    knowledge = diagnostician.knowledge
    session = History().add(EventKind.ANSWER, "button-write", "none").add(EventKind.TRIED, BUTTON, "same")
    told = replay(session, knowledge)
    assert [(r.answer, r.epoch) for r in told.reports if r.finding == "button-write"] == [("tried", 1)]
    assert told.current()["button-write"] == "tried"
    assert replay(session.undo(), knowledge).current()["button-write"] == "none"
    worked = History().add(EventKind.TRIED, BUTTON, "starts")
    assert replay(worked, knowledge).reports == ()
