"""A reading at, inside and outside each limit; in each state; and readings that no supply gives."""

from __future__ import annotations

import pytest

from nopost.errors import NopostError, UnknownNameError
from nopost.knowledge.model import Knowledge
from nopost.meter.limit_check import Grade, band_of
from nopost.meter.parse_readings import parse_text
from nopost.meter.reading import PowerState, names_of
from nopost.meter.supply import MeasurementReport, cell_of, guides_of, make_report

GUIDES = ("atx-2-0", "atx-3-0")


def report(knowledge: Knowledge, text: str, state: str = "", guide: str = "both") -> MeasurementReport:
    """The judgement of typed readings."""
    return make_report(parse_text(text, names_of(knowledge.limits.values())), knowledge.limits, guide, PowerState(state))


@pytest.mark.slow
@pytest.mark.parametrize("guide", GUIDES)
def test_each_rail_at_its_limits(knowledge: Knowledge, guide: str) -> None:
    """A limit itself is inside; a hundredth of a volt further is outside by just that."""
    for rail in knowledge.limits[guide].rails:
        inside = report(knowledge, f"{rail.name}={rail.low} {rail.name}={rail.high} {rail.name}={rail.nominal}", "running", guide)
        assert {judged.rulings[0].grade for judged in inside.judged} == {Grade.WITHIN}, rail.name
        outside = report(knowledge, f"{rail.name}={rail.low - 0.01:.2f} {rail.name}={rail.high + 0.01:.2f}", "running", guide)
        grades = [judged.rulings[0].grade for judged in outside.judged]
        wanted = [Grade.TOO_LITTLE, Grade.TOO_MUCH]
        assert grades == (wanted if rail.nominal > 0 else wanted[::-1]), rail.name
        assert [judged.rulings[0].by for judged in outside.judged] == pytest.approx([0.01, 0.01])


def test_the_guides_stand_side_by_side(knowledge: Knowledge) -> None:
    """11.3 V is 0.1 V under the older guide's 11.4 and inside the newer one's 11.2 to 12.6."""
    (judged,) = report(knowledge, "12V=11.3", "running").judged
    assert [(ruling.guide, ruling.grade) for ruling in judged.rulings] == [
        ("atx-2-0", Grade.TOO_LITTLE),
        ("atx-3-0", Grade.WITHIN),
    ]
    assert judged.disputed
    assert not judged.bad
    assert judged.rulings[0].text == "0.1 V under 11.4"


@pytest.mark.parametrize(
    ("text", "state", "grade"),
    [
        ("12V=0.1", "standby", Grade.RIGHTLY_OFF),
        ("12V=0.1", "running", Grade.MISSING),
        ("12V=0.1", "off", Grade.RIGHTLY_OFF),
        ("12V=0.1", "", Grade.UNSETTLED),
        ("12V=12", "standby", Grade.NOT_OFF),
        ("12V=1.19", "running", Grade.MISSING),
        ("12V=1.2", "running", Grade.TOO_LITTLE),
        ("5VSB=0.49", "standby", Grade.MISSING),
        ("5VSB=0.5", "standby", Grade.TOO_LITTLE),
        ("5VSB=0", "running", Grade.MISSING),
        ("5VSB=5", "off", Grade.NOT_OFF),
        ("PS_ON=0.8", "standby", Grade.WRONG_LEVEL),
        ("PS_ON=0.8", "running", Grade.WITHIN),
        ("PS_ON=0.81", "running", Grade.WRONG_LEVEL),
        ("PS_ON=2.0", "standby", Grade.WITHIN),
        ("PS_ON=1.99", "standby", Grade.WRONG_LEVEL),
        ("PS_ON=4.9", "pressed", Grade.WRONG_LEVEL),
        ("PWR_OK=2.4", "running", Grade.WITHIN),
        ("PWR_OK=2.39", "running", Grade.WRONG_LEVEL),
        ("PWR_OK=0.4", "standby", Grade.WITHIN),
        ("PWR_OK=5.25", "running", Grade.WITHIN),
        ("PWR_OK=5.26", "running", Grade.WRONG_LEVEL),
        ("PWR_OK=0.1", "pressed", Grade.UNSETTLED),
    ],
)
def test_states(knowledge: Knowledge, text: str, state: str, grade: Grade) -> None:
    """What is right in one state is wrong in another."""
    (judged,) = report(knowledge, text, state, "atx-3-0").judged
    assert judged.rulings[0].grade is grade


@pytest.mark.parametrize(
    ("text", "grades"),
    [
        ("T3=99", (Grade.TOO_LITTLE, Grade.TOO_LITTLE)),
        ("T3=100", (Grade.WITHIN, Grade.WITHIN)),
        ("T3=250", (Grade.WITHIN, Grade.WITHIN)),
        ("T3=251", (Grade.WITHIN, Grade.TOO_MUCH)),
        ("T3=501", (Grade.TOO_MUCH, Grade.TOO_MUCH)),
        ("T1=0.3s", (Grade.WITHIN, Grade.TOO_MUCH)),
        ("T5=16", (Grade.NO_LIMIT, Grade.WITHIN)),
        ("T5=15.9", (Grade.NO_LIMIT, Grade.TOO_LITTLE)),
    ],
)
def test_times(knowledge: Knowledge, text: str, grades: tuple[Grade, Grade]) -> None:
    """Delay of PWR_OK 100 to 500 ms before 2020, 100 to 250 ms today; hold-up is stated by one guide only."""
    (judged,) = report(knowledge, text).judged
    assert tuple(ruling.grade for ruling in judged.rulings) == grades


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("12V=1135", "11.35 V meant"),
        ("5V=5020", "5.02 V meant? (millivolts"),
        ("cell=2980", "2.98 V meant"),
        ("12V=-11.9", "sign is turned round"),
        ("-12V=11.9", "sign is turned round"),
        ("cell=-2.9", "sign is turned round"),
        ("3.3V=12.1", "looks like +12V"),
        ("12V=5.02", "looks like +5V"),
        ("PS_ON=12.0", "looks like +12V"),
        ("pin 3=5.0", "no voltage belongs on a ground contact"),
        ("pin 20=-5", "not connected"),
        ("5VSB=230", "mains voltage"),
        ("12V=120", "mains voltage"),
        ("12V=25", "no supply gives this"),
        ("cell=4.1", "never shows more than 3.6"),
    ],
)
def test_not_believed(knowledge: Knowledge, text: str, why: str) -> None:
    """Tips swapped, unit or point mistaken, another contact: said, and nothing is made of it."""
    found = report(knowledge, text)
    assert len(found.doubted) == 1
    assert why in found.doubted[0].doubt
    assert found.state is PowerState.NOT_SAID


@pytest.mark.parametrize(
    "text", ["12V=10.1", "12V=0", "5V=4.1", "3.3V=2.9", "5VSB=0.02", "5VSB=3.9", "cell=0", "-12V=-9.5", "pin 3=0"]
)
def test_believed(knowledge: Knowledge, text: str) -> None:
    """What a bad supply does give is not doubted away."""
    assert report(knowledge, text).doubted == ()


@pytest.mark.parametrize(
    ("text", "state"),
    [
        ("12V=11.9", "running"),
        ("PWR_OK=4.8", "running"),
        ("PS_ON=4.9 5VSB=5", "standby"),
        ("PS_ON=4.9 12V=0", "standby"),
        ("5VSB=5", ""),
        ("12V=0 5V=0", ""),
        ("12V=-11.9 5VSB=5", ""),
    ],
)
def test_state_from_the_readings(knowledge: Knowledge, text: str, state: str) -> None:
    """Only where they leave no choice, and never from a doubted one."""
    found = report(knowledge, text)
    assert (found.state.value, found.state_inferred) == (state, bool(state))


@pytest.mark.parametrize(
    ("volts", "answer"),
    [
        (3.3, "good"),
        (2.9, "good"),
        (2.89, "ageing"),
        (2.5, "ageing"),
        (2.49, "low"),
        (2.0, "low"),
        (1.99, "dead"),
        (-0.1, "dead"),
    ],
)
def test_cell_bands(knowledge: Knowledge, volts: float, answer: str) -> None:
    """A band begins at its own number."""
    cell = cell_of(knowledge.limits)
    assert cell is not None
    assert band_of(cell, volts)[0] == answer


def test_ripple(knowledge: Knowledge) -> None:
    """Only when it was given."""
    inside, outside, none = report(knowledge, "12V=12 ripple 120mV 5V=5 ripple 51 3.3V=3.3", "running", "atx-3-0").judged
    assert inside.rulings[0].ripple == "ripple 120 mV, inside 120 mV"
    assert outside.rulings[0].ripple == "ripple 51 mV, over 50 mV"
    assert none.rulings[0].ripple == ""


def test_guides(knowledge: Knowledge) -> None:
    """The older one first; a wrong name is told; a base without any says so."""
    assert tuple(guide.id for guide in guides_of(knowledge.limits)) == GUIDES
    with pytest.raises(UnknownNameError, match="atx-2-0, atx-3-0"):
        guides_of(knowledge.limits, "zzz")
    with pytest.raises(NopostError, match="no limits for voltages"):
        guides_of({})
