"""The firmware plan beside a session: when it is offered, what it says, what is missing, and what of a record a step shows."""

from __future__ import annotations

import json
import shlex
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.firmware_offer import OPTIONS, PlanOffer, look_command, offer_data, offer_lines, plan_offer, record_words
from nopost.diagnosis.history import End, EventKind, History, Parts, Person
from nopost.diagnosis.parts_facts import with_records
from nopost.diagnosis.step_view import step_view
from nopost.firmware.route.task import Way
from nopost.render.report import markdown_report, report_data
from nopost.store.sessions import new_session
from nopost_cli.plan import WAYS, command

SEEN = (("danger-signs", "none"), ("occasion", "new-build"), ("response", "runs"), ("screen", "no-signal"))
LATE = {"board": "tb-breakwater-x1", "firmware": "1.9", "cpu": "wrack-820"}


def history_of(records: dict[str, str], *more: tuple[EventKind, str, str]) -> History:
    """A new build without a picture, with these records, and what happened then."""
    history = History(Parts.of_records(records))
    for finding, answer in SEEN:
        history = history.add(EventKind.ANSWER, finding, answer)
    for kind, item, value in more:
        history = history.add(kind, item, value)
    return history


def with_parts(history: History, records: dict[str, str]) -> History:
    """The same with other records."""
    return replace(history, parts=Parts.of_records(records))


def with_person(history: History, person: Person) -> History:
    """The same at another person's bench."""
    return replace(history, parts=replace(history.parts, at_hand=person.at_hand, minute_rate=person.minute_rate))


def offered(diagnostician: Diagnostician, history: History, kb: str = "") -> PlanOffer | None:
    """What is offered."""
    return plan_offer(diagnostician.knowledge, history, diagnostician.diagnose(history), kb)


def test_offered_for_a_cpu_that_is_too_new(diagnostician: Diagnostician) -> None:
    """Board, release and CPU are known, and the release lacks the CPU."""
    offer = offered(diagnostician, history_of(LATE))
    assert offer is not None
    assert offer.reachable
    assert offer_lines(offer) == ["1 step, 46 min:  1 Write with the board's button: 1.12 over 1.9."]


def test_an_upgrade_goes_back_over_the_old_cpu(diagnostician: Diagnostician) -> None:
    """After a change of the CPU the old one is there; without the button it is the cheapest way, with or without a release."""
    for records in (LATE, {name: value for name, value in LATE.items() if name != "firmware"}):
        history = History(Parts.of_records(records))
        for finding, answer in (*(each for each in SEEN if each[0] != "occasion"), ("cpu-listed", "needs-newer")):
            history = history.add(EventKind.ANSWER, finding, answer)
        history = history.add(EventKind.ANSWER, "occasion", "after-cpu-change")
        offer = offered(diagnostician, history.add(EventKind.SKIPPED, "write-firmware-button", ""))
        assert offer is not None
        assert offer.plan is not None
        ways = [step.way for step in offer.plan.steps]
        assert (ways[0], ways[-1], set(ways[1:-1])) == (Way.SWAP, Way.SWAP, {Way.INSIDE})
        assert "old-cpu" in offer.command


@pytest.mark.slow
@pytest.mark.parametrize(
    "person", [Person(), Person(2.0, frozenset({"memory-stick", "second-machine"}))], ids=["as it is", "rich and equipped"]
)
def test_the_command_makes_the_same_plan(diagnostician: Diagnostician, person: Person) -> None:
    """What is to be typed is the plan that was shown, to the step and to the minute."""
    skipped = (EventKind.SKIPPED, "write-firmware-button", "")
    for more in ((), (skipped,)):
        offer = offered(diagnostician, with_person(history_of(LATE, *more), person))
        data = offer_data(offer)
        assert offer is not None
        assert data is not None
        name, sub, *words = shlex.split(offer.command)
        done = CliRunner().invoke(command, [*words, "--json"])
        assert (name, sub, done.exit_code) == ("nopost", "plan", 0)
        plan = json.loads(done.stdout)
        assert [step["title"] for step in plan["steps"]] == data["steps"] != []
        assert plan["effort"] == data["effort"]


def test_what_cannot_be_done_is_left_out(diagnostician: Diagnostician) -> None:
    """Without the button another way is planned; the names of the ways are those of the command."""
    offer = offered(diagnostician, history_of(LATE, (EventKind.SKIPPED, "write-firmware-button", "")))
    assert offer is not None
    assert offer.plan is not None
    assert Way.BUTTON not in {move.way for route in offer.plan.routes for move in route.moves}
    assert offer.command.endswith("--without button")
    assert all(WAYS[name] == (way,) for way, name in OPTIONS.items())


@pytest.mark.parametrize("lacking", ["board", "firmware", "cpu"])
def test_one_record_is_lacking(diagnostician: Diagnostician, lacking: str) -> None:
    """With two of three it is said which one to give; with one, nothing is said of a plan."""
    records = {name: value for name, value in LATE.items() if name != lacking}
    history = history_of(LATE).add(EventKind.ANSWER, "cpu-listed", "needs-newer")
    offer = offered(diagnostician, with_parts(history, records))
    assert offer is not None
    assert offer.lacks == (lacking,)
    assert f"--{lacking}" in offer_lines(offer)[0]
    assert offered(diagnostician, with_parts(history, {"board": LATE["board"]})) is None


def test_no_offer_when_firmware_is_not_in_question(diagnostician: Diagnostician) -> None:
    """A release that knows the CPU needs no plan; nor does a machine with quite another fault."""
    assert offered(diagnostician, history_of(LATE | {"firmware": "1.12"})) is None
    history = history_of({})
    for finding, answer in (("stage-lamp", "memory"), ("memory-seated", "not-fully")):
        history = history.add(EventKind.ANSWER, finding, answer)
    assert plan_offer(diagnostician.knowledge, with_parts(history, LATE), diagnostician.diagnose(history)) is None


def test_no_route(diagnostician: Diagnostician) -> None:
    """A CPU for another socket: what is missing is said, and nothing fails."""
    history = history_of({}).add(EventKind.ANSWER, "cpu-listed", "needs-newer")
    offer = offered(diagnostician, with_parts(history, {"board": "tb-harbour-m2", "firmware": "0.94", "cpu": "wrack-820"}))
    assert offer is not None
    assert not offer.reachable
    assert any("made for socket" in line for line in offer_lines(offer))


@pytest.mark.parametrize("gone", [{"board": "/nowhere/board.yaml"}, {"firmware": "9.99"}, {"cpu": "no-such-cpu"}])
def test_a_record_that_is_gone(diagnostician: Diagnostician, gone: dict[str, str]) -> None:
    """A session outlives the files of its records: one line says why there is no plan."""
    offer = offered(diagnostician, history_of(LATE | gone))
    assert offer is not None
    assert offer.plan is None
    assert len(offer_lines(offer)) == 1
    assert next(iter(gone.values())) in offer_lines(offer)[0]


def test_in_the_report(diagnostician: Diagnostician) -> None:
    """An open session's report and its data hold the plan; one that ended well does not."""
    knowledge, history = diagnostician.knowledge, history_of(LATE)
    diagnosis = diagnostician.diagnose(history)
    view = step_view(diagnostician, history, diagnosis)
    session = new_session("bench", knowledge, history)
    assert "## Firmware plan" in markdown_report(knowledge, session, diagnosis, view)
    data = report_data(knowledge, session, diagnosis, view)["firmware_plan"]
    assert list(data) == ["reachable", "steps", "effort", "missing", "lacks", "problem", "command"]
    done = session.with_history(history.add(EventKind.END, "firmware-lacks-cpu-support", End.STARTS))
    assert "## Firmware plan" not in markdown_report(knowledge, done, diagnosis, view)


def test_what_the_record_says_to_a_step(diagnostician: Diagnostician) -> None:
    """The exact name, socket, file systems and minutes of this board stand with the write; each question has its own."""
    knowledge, history = diagnostician.knowledge, history_of(LATE)
    recovery = knowledge.boards[LATE["board"]].recovery
    said = record_words(knowledge, history.parts, StepKind.DO, "write-firmware-button")
    for text in (recovery["button_file"], recovery["button_socket"], *recovery["button_file_systems"], "6 minutes", "X1W"):
        assert text in said
    name = record_words(knowledge, history.parts, StepKind.ASK, "write-file-name")
    assert name == "TB-Breakwater X1 rev 1.2; file name TBBX1.ROM, letter for letter."
    for other in ({}, {"board": "tb-harbour-m2"}, {"board": "/nowhere.yaml"}):
        assert record_words(knowledge, Parts.of_records(other), StepKind.ASK, "write-file-name") == ""
    assert record_words(knowledge, history.parts, StepKind.DO, "reseat-memory") == ""


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
def test_what_the_program_can_look_at_itself(diagnostician: Diagnostician, finding: str, told: str) -> None:
    """Name and file system of a stick, and whose image a file is, need nobody's eyes."""
    said = look_command(diagnostician.knowledge, Parts.of_records(LATE), StepKind.ASK, finding)
    assert said.endswith(told) if told else said == ""
    assert look_command(diagnostician.knowledge, Parts(), StepKind.ASK, finding) == ""


def test_records_of_boards_without_a_button_say_nothing_of_it(diagnostician: Diagnostician, tmp_path: Path) -> None:
    """A record in a file serves as well; what it leaves out is left out."""
    text = Path(str(Path(__file__).parents[2] / "kb/boards/tb-harbour-m2.yaml")).read_text(encoding="utf-8")
    path = tmp_path / "mine.yaml"
    path.write_text(text.replace("id: tb-harbour-m2", "id: mine"), encoding="utf-8")
    parts = Parts(board=str(path))
    said = record_words(with_records(diagnostician.knowledge, parts), parts, StepKind.DO, "write-firmware-button")
    assert said.startswith("Files for exactly TB-Harbour M2 rev 1.1")
    assert "lamp" not in said


def test_a_knowledge_base_of_ones_own_goes_along(diagnostician: Diagnostician) -> None:
    """The commands that are shown name the folder that the records came from."""
    offer = offered(diagnostician, history_of(LATE), "/my base")
    assert offer is not None
    assert shlex.split(offer.command)[-2:] == ["--kb", "/my base"]
    fixes = [name for name, action in diagnostician.knowledge.actions.items() if "button_file" in action.record]
    looks = [look_command(diagnostician.knowledge, Parts.of_records(LATE), StepKind.DO, name, "/my base") for name in fixes]
    assert looks
    assert all(look.endswith("--kb '/my base'") for look in looks)
