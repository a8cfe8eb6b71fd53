"""The firmware plan beside a session: when it is offered, what it says, what is missing, and what of a record a step shows."""

from __future__ import annotations

import json
import shlex
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from nopost.diagnosis.advice.adviser import Step, StepKind
from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.effort import Person
from nopost.diagnosis.firmware_offer import OPTIONS, PlanOffer, look_command, offer_data, offer_lines, plan_offer, record_words
from nopost.diagnosis.history import End, EventKind, Session, new_session, observations
from nopost.firmware.record_facts import record_facts
from nopost.firmware.records import records_of
from nopost.firmware.route.task import Way
from nopost.render.report import markdown_report, report_data
from nopost_cli.plan import WAYS, command

SEEN = (("danger-signs", "none"), ("occasion", "new-build"), ("response", "runs"), ("screen", "no-signal"))
LATE = {"board": "tb-breakwater-x1", "firmware": "1.9", "cpu": "wrack-820"}


def session_of(assessor: Diagnostician, records: dict[str, str], *more: tuple[EventKind, str, str]) -> Session:
    """A new build without a picture, with these records, and what happened then."""
    session = replace(
        new_session("bench", assessor.knowledge),
        facts=record_facts(records_of(records, assessor.knowledge)),
        records=records,
    )
    for finding, answer in SEEN:
        session = session.add(EventKind.ANSWER, finding, answer)
    for kind, item, value in more:
        session = session.add(kind, item, value)
    return session


def offered(assessor: Diagnostician, session: Session) -> PlanOffer | None:
    """What is offered."""
    assessment = assessor.assess(observations(session, assessor.knowledge), session.person)
    return plan_offer(assessor.knowledge, session, assessment)


def test_offered_for_a_cpu_that_is_too_new(assessor: Diagnostician) -> None:
    """Board, release and CPU are known, and the release lacks the CPU."""
    offer = offered(assessor, session_of(assessor, LATE))
    assert offer is not None
    assert offer.reachable
    assert offer_lines(offer) == ["1 step, 46 min:  1 Write with the board's button: 1.12 over 1.9."]


@pytest.mark.parametrize(
    "person", [Person(), Person(2.0, frozenset({"memory-stick", "second-machine"}))], ids=["as it is", "rich and equipped"]
)
def test_the_command_makes_the_same_plan(assessor: Diagnostician, person: Person) -> None:
    """What is to be typed is the plan that was shown, to the step and to the minute."""
    skipped = (EventKind.SKIPPED, "write-firmware-button", "")
    for more in ((), (skipped,)):
        offer = offered(assessor, replace(session_of(assessor, LATE, *more), person=person))
        data = offer_data(offer)
        assert offer is not None
        assert data is not None
        name, sub, *words = shlex.split(offer.command)
        done = CliRunner().invoke(command, [*words, "--json"])
        assert (name, sub, done.exit_code) == ("nopost", "plan", 0)
        plan = json.loads(done.stdout)
        assert [step["title"] for step in plan["steps"]] == data["steps"] != []
        assert plan["effort"] == data["effort"]


def test_what_cannot_be_done_is_left_out(assessor: Diagnostician) -> None:
    """Without the button another way is planned; the names of the ways are those of the command."""
    offer = offered(assessor, session_of(assessor, LATE, (EventKind.SKIPPED, "write-firmware-button", "")))
    assert offer is not None
    assert offer.plan is not None
    assert Way.BUTTON not in {move.way for route in offer.plan.routes for move in route.moves}
    assert offer.command.endswith("--without button")
    assert all(WAYS[name] == (way,) for way, name in OPTIONS.items())


@pytest.mark.parametrize("lacking", ["board", "firmware", "cpu"])
def test_one_record_is_lacking(assessor: Diagnostician, lacking: str) -> None:
    """With two of three it is said which one to give; with one, nothing is said of a plan."""
    records = {name: value for name, value in LATE.items() if name != lacking}
    session = session_of(assessor, LATE).add(EventKind.ANSWER, "cpu-listed", "needs-newer")
    offer = offered(assessor, replace(session, records=records))
    assert offer is not None
    assert offer.lacks == (lacking,)
    assert f"--{lacking}" in offer_lines(offer)[0]
    assert offered(assessor, replace(session, records={"board": LATE["board"]})) is None


def test_no_offer_when_firmware_is_not_in_question(assessor: Diagnostician) -> None:
    """A release that knows the CPU needs no plan; nor does a machine with quite another fault."""
    assert offered(assessor, session_of(assessor, LATE | {"firmware": "1.12"})) is None
    session = session_of(assessor, {})
    for finding, answer in (("stage-lamp", "memory"), ("memory-seated", "not-fully")):
        session = session.add(EventKind.ANSWER, finding, answer)
    assert offered(assessor, replace(session, records=LATE)) is None


def test_no_route(assessor: Diagnostician) -> None:
    """A CPU for another socket: what is missing is said, and nothing fails."""
    session = session_of(assessor, {}).add(EventKind.ANSWER, "cpu-listed", "needs-newer")
    offer = offered(assessor, replace(session, records={"board": "tb-harbour-m2", "firmware": "0.94", "cpu": "wrack-820"}))
    assert offer is not None
    assert not offer.reachable
    assert any("made for socket" in line for line in offer_lines(offer))


@pytest.mark.parametrize("gone", [{"board": "/nowhere/board.yaml"}, {"firmware": "9.99"}, {"cpu": "no-such-cpu"}])
def test_a_record_that_is_gone(assessor: Diagnostician, gone: dict[str, str]) -> None:
    """A session outlives the files of its records: one line says why there is no plan."""
    offer = offered(assessor, replace(session_of(assessor, LATE), records=LATE | gone))
    assert offer is not None
    assert offer.plan is None
    assert len(offer_lines(offer)) == 1
    assert next(iter(gone.values())) in offer_lines(offer)[0]


def test_in_the_report(assessor: Diagnostician) -> None:
    """An open session's report and its data hold the plan; one that ended well does not."""
    knowledge, session = assessor.knowledge, session_of(assessor, LATE)
    assessment = assessor.assess(observations(session, knowledge), session.person)
    assert "## Firmware plan" in markdown_report(knowledge, session, assessment)
    data = report_data(knowledge, session, assessment)["firmware_plan"]
    assert list(data) == ["reachable", "steps", "effort", "missing", "lacks", "problem", "command"]
    done = session.add(EventKind.END, "firmware-lacks-cpu-support", End.STARTS)
    assert "## Firmware plan" not in markdown_report(knowledge, done, assessment)


def test_what_the_record_says_to_a_step(assessor: Diagnostician) -> None:
    """The exact name, socket, file systems and minutes of this board stand with the write; each question has its own."""
    knowledge, session = assessor.knowledge, session_of(assessor, LATE)
    recovery = knowledge.boards[LATE["board"]].recovery
    said = record_words(knowledge, session, Step(StepKind.DO, "write-firmware-button", 0.0, 0.0))
    for text in (recovery["button_file"], recovery["button_socket"], *recovery["button_file_systems"], "6 minutes", "X1W"):
        assert text in said
    name = record_words(knowledge, session, Step(StepKind.ASK, "write-file-name", 0.0, 0.0))
    assert name == "TB-Breakwater X1 rev 1.2; file name TBBX1.ROM, letter for letter."
    for other in ({}, {"board": "tb-harbour-m2"}, {"board": "/nowhere.yaml"}):
        assert record_words(knowledge, replace(session, records=other), Step(StepKind.ASK, "write-file-name", 0.0, 0.0)) == ""
    assert record_words(knowledge, session, Step(StepKind.DO, "reseat-memory", 0.0, 0.0)) == ""


@pytest.mark.parametrize(
    ("finding", "told"),
    [
        ("write-file-name", "nopost stick PATH --board tb-breakwater-x1"),
        ("write-stick-format", "nopost stick PATH --board tb-breakwater-x1"),
        ("firmware-file", "nopost image FILE --board tb-breakwater-x1"),
        ("write-socket", ""),
        ("screen", ""),
    ],
)
def test_what_the_program_can_look_at_itself(assessor: Diagnostician, finding: str, told: str) -> None:
    """Name and file system of a stick, and whose image a file is, need nobody's eyes."""
    session, step = session_of(assessor, LATE), Step(StepKind.ASK, finding, 0.0, 0.0)
    said = look_command(assessor.knowledge, session, step)
    assert said.endswith(told) if told else said == ""
    assert look_command(assessor.knowledge, replace(session, records={}), step) == ""


def test_records_of_boards_without_a_button_say_nothing_of_it(assessor: Diagnostician, tmp_path: Path) -> None:
    """A record in a file serves as well; what it leaves out is left out."""
    text = Path(str(Path(__file__).parents[2] / "kb/boards/tb-harbour-m2.yaml")).read_text(encoding="utf-8")
    path = tmp_path / "mine.yaml"
    path.write_text(text.replace("id: tb-harbour-m2", "id: mine"), encoding="utf-8")
    session = replace(session_of(assessor, LATE), records={"board": str(path)})
    said = record_words(assessor.knowledge, session, Step(StepKind.DO, "write-firmware-button", 0.0, 0.0))
    assert said.startswith("Files for exactly TB-Harbour M2 rev 1.1")
    assert "lamp" not in said


def test_a_knowledge_base_of_ones_own_goes_along(assessor: Diagnostician) -> None:
    """The commands that are shown name the folder that the records came from."""
    session = session_of(assessor, {**LATE, "kb": "/my base"})
    offer = offered(assessor, session)
    assert offer is not None
    assert shlex.split(offer.command)[-2:] == ["--kb", "/my base"]
    fixes = [name for name, action in assessor.knowledge.actions.items() if "button_file" in action.record]
    looks = [look_command(assessor.knowledge, session, Step(StepKind.DO, name, 0.0, 0.0)) for name in fixes]
    assert looks
    assert all(look.endswith("--kb '/my base'") for look in looks)
