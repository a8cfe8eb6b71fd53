"""What the readings come to: sentences, and the answers that a diagnosis can go on from. Nothing is told twice."""

from __future__ import annotations

import pytest

from nopost.diagnosis.advice.available_steps import AvailableSteps
from nopost.diagnosis.belief.evidence import Observations
from nopost.diagnosis.belief.evidence import Report as Told
from nopost.diagnosis.diagnose import Diagnostician
from nopost.knowledge.model import Knowledge
from nopost.knowledge.roles import AnsweredFinding, FindingRole, Roles
from nopost.meter.interpretation import answers, sentences
from nopost.meter.parse_readings import parse_text
from nopost.meter.reading import PowerState, names_of
from nopost.meter.supply import MeasurementReport, make_report

GOOD = "12V=12 5V=5 3.3V=3.3"


def report(knowledge: Knowledge, text: str, state: str = "", guide: str = "both") -> MeasurementReport:
    """The judgement of typed readings."""
    return make_report(parse_text(text, names_of(knowledge.limits.values())), knowledge.limits, guide, PowerState(state))


@pytest.mark.parametrize(
    ("text", "state", "said"),
    [
        ("5VSB=5.05", "", {"standby-voltage": "in-range"}),
        ("5VSB=4.74", "standby", {"standby-voltage": "low"}),
        ("5VSB=0.5", "standby", {"standby-voltage": "low"}),
        ("5VSB=0.49", "standby", {"standby-voltage": "none"}),
        ("5VSB=5.26", "standby", {"standby-voltage": "high"}),
        ("5VSB=5", "off", {}),
        ("5VSB=0.02 PS_ON=0.1", "standby", {"standby-voltage": "none"}),
        ("5VSB=5 PS_ON=0.1", "standby", {"standby-voltage": "in-range", "ps-on-signal": "never-high"}),
        ("PS_ON=0.1", "standby", {}),
        ("PS_ON@pressed=0.1", "", {"ps-on-signal": "goes-low"}),
        ("PS_ON@pressed=0.1 PS_ON@pressed=4.9", "", {"ps-on-signal": "comes-back"}),
        ("PS_ON@pressed=4.9", "", {"ps-on-signal": "stays-high"}),
        ("PS_ON=0.1 12V=0 5V=0 3.3V=0", "running", {"ps-on-signal": "goes-low"}),
        (f"{GOOD} PS_ON=0.1", "running", {"main-rails": "all-within"}),
        ("12V=12 5V=5", "running", {}),
        ("12V=10.6", "running", {"main-rails": "one-outside"}),
        ("12V=13.4", "running", {"main-rails": "one-high"}),
        ("12V=13.4 5V=4.5", "running", {"main-rails": "one-high"}),
        ("12V=12 5V=0.1", "running", {"main-rails": "one-missing"}),
        ("12V=11.3 5V=5 3.3V=3.3", "running", {}),
        (f"{GOOD} PWR_OK=4.8", "running", {"main-rails": "all-within", "power-good": "high"}),
        (f"{GOOD} PWR_OK=0.1", "running", {"main-rails": "all-within", "power-good": "low"}),
        (f"{GOOD} PWR_OK=1.5", "running", {"main-rails": "all-within", "power-good": "unsteady"}),
        (f"{GOOD} PWR_OK=4.8 PWR_OK=0.1", "running", {"main-rails": "all-within", "power-good": "unsteady"}),
        ("12V=10.6 PWR_OK=0.1", "running", {"main-rails": "one-outside"}),
        ("5VSB=0 12V=12 5V=5 3.3V=3.3", "running", {"main-rails": "all-within"}),
        ("cell=2.71", "", {"cell-voltage": "ageing"}),
        ("12V=1135", "running", {}),
        ("-12V=0", "running", {}),
    ],
)
def test_answers(knowledge: Knowledge, text: str, state: str, said: dict[str, str]) -> None:
    """Only what the readings settle; what follows from another reading is left out."""
    assert answers(report(knowledge, text, state), knowledge.base.roles) == said


def test_with_one_guide_the_dispute_is_settled(knowledge: Knowledge) -> None:
    """11.3 V is outside by the older guide and inside by the newer one."""
    found = {
        g: answers(report(knowledge, "12V=11.3 5V=5 3.3V=3.3", "running", g), knowledge.base.roles)
        for g in ("atx-2-0", "atx-3-0")
    }
    assert found == {"atx-2-0": {"main-rails": "one-outside"}, "atx-3-0": {"main-rails": "all-within"}}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (f"5VSB=5 PS_ON=0.05 {GOOD}", {"standby-voltage": "in-range", "supply-alone": "runs"}),
        ("5VSB=5 PS_ON=0.05 12V=0 5V=0 3.3V=0", {"standby-voltage": "in-range", "supply-alone": "dead"}),
        ("12V=0 5V=0 3.3V=0", {}),
        ("12V=12 5V=0 3.3V=3.3", {}),
        ("12V=12", {}),
        ("5VSB=0", {"standby-voltage": "none"}),
    ],
)
def test_a_supply_alone(knowledge: Knowledge, text: str, said: dict[str, str]) -> None:
    """It answers the test of the supply alone, and nothing about the machine it was taken from."""
    readings = parse_text(text, names_of(knowledge.limits.values()))
    found = make_report(readings, knowledge.limits, state=PowerState.RUNNING, alone=True)
    assert answers(found, knowledge.base.roles) == said
    assert not any("the board asks" in sentence.text for sentence in sentences(found))
    assert any("needs a load" in sentence.text for sentence in sentences(found))


def test_only_findings_that_are_known(knowledge: Knowledge) -> None:
    """A knowledge base that gives these findings no role, or what was seen no answer, is told nothing."""
    assert answers(report(knowledge, "5VSB=5"), Roles()) == {}
    low = Roles({FindingRole.METER_STANDBY: AnsweredFinding("standby", {"low": "weak"})})
    assert answers(report(knowledge, "5VSB=5"), low) == {}
    assert answers(report(knowledge, "5VSB=4"), low) == {"standby": "weak"}


@pytest.mark.parametrize(
    ("text", "state", "words"),
    [
        ("5VSB=0", "standby", "Standby is missing: mains"),
        ("5VSB=5.4", "standby", "too high: switch off"),
        ("5VSB=5 PS_ON@pressed=4.9", "", "the board does not ask"),
        ("5VSB=5 PS_ON=0.1 12V=0", "running", "asked and gives nothing"),
        ("12V=0 5V=0", "running", "Measure PS_ON#"),
        ("12V=13.1", "running", "too much voltage destroys parts"),
        ("12V=10.6", "running", "needs a load"),
        ("12V=11.3", "running", "guides disagree on +12V"),
        (f"{GOOD} PWR_OK=0.1", "running", "keeps the CPU in reset"),
        ("12V=10.6 PWR_OK=0.1", "running", "that follows from the main voltage"),
        ("12V=12 ripple 40mV", "running", "plain multimeter cannot show ripple"),
        ("12V=12 ripple 140mV", "running", "too much ripple"),
        ("12V=0", "", "say how the machine was"),
        ("5VSB=0 12V=12", "running", "measure it again"),
        ("5VSB=5", "off", "charge is left"),
        ("cell=1.9", "", "Coin cell: dead"),
    ],
)
def test_sentences(knowledge: Knowledge, text: str, state: str, words: str) -> None:
    """The meaning in words."""
    assert any(words in sentence.text for sentence in sentences(report(knowledge, text, state)))


@pytest.mark.parametrize(
    ("text", "answer", "words"),
    [
        ("PS_ON@running=4.9 12V@running=0", "stays-high", "stays high at the press"),
        ("PS_ON@pressed=4.9 PS_ON@running=0.1 12V@running=0", "goes-low", "the supply is asked and gives nothing"),
        ("PS_ON@pressed=0.1 PS_ON@running=4.9 12V@running=0", "comes-back", "falls and rises again"),
    ],
)
def test_answer_and_sentence_of_a_dead_machine_agree(knowledge: Knowledge, text: str, answer: str, words: str) -> None:
    """The signal was measured at the press, or while the machine should run, or both."""
    found = report(knowledge, text)
    assert answers(found, knowledge.base.roles)["ps-on-signal"] == answer
    assert sum(words in sentence.text.casefold() for sentence in sentences(found)) == 1


@pytest.mark.slow
@pytest.mark.parametrize(
    ("given", "asked", "wanted"),
    [
        ({"response": "nothing"}, "ps-on-signal", False),
        ({"response": "nothing", "standby-voltage": "in-range"}, "ps-on-signal", True),
        ({"response": "nothing", "standby-light": "lit"}, "ps-on-signal", True),
        ({"response": "nothing", "standby-voltage": "none"}, "ps-on-signal", False),
        ({"response": "restarts"}, "power-good", True),
        ({"response": "restarts", "main-rails": "one-outside"}, "power-good", False),
        ({"response": "restarts", "main-rails": "one-outside"}, "start-dip", False),
        ({"response": "nothing"}, "main-rails", False),
        ({"response": "runs"}, "main-rails", True),
    ],
)
def test_when_it_is_asked(diagnostician: Diagnostician, given: dict[str, str], asked: str, wanted: bool) -> None:
    """Only where it can be seen and says something that is not known already."""
    seen = Observations(tuple(Told(name, answer) for name, answer in given.items()))
    offers = AvailableSteps(diagnostician.knowledge, seen, diagnostician.assess(seen).inference)
    assert (asked in {finding.id for finding in offers.questions()}) == wanted
