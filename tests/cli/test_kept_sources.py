"""A session keeps its sources and nothing that follows from them: records edited later count, pasted codes stay one event."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from cli.terminal import Terminal
from nopost.diagnosis.history import EventKind
from nopost.knowledge.model import Knowledge
from nopost.store.sessions import load

Run = Callable[..., CompletedProcess[str]]
KB = Path(__file__).resolve().parents[2] / "kb"
LAMPS = "amber lamp lit"


def report(run: Run, name: str) -> dict[str, object]:
    """The report of a session as data."""
    done = run("report", name, "--format", "json")
    assert (done.returncode, done.stderr) == (0, "")
    data: dict[str, object] = json.loads(done.stdout)
    return data


@pytest.mark.slow
def test_an_edited_record_counts_everywhere(run: Run, tmp_path: Path) -> None:
    """The board's record is edited after the session was kept: the causes and the plan go by what it says now."""
    text = (KB / "boards" / "tb-harbour-m2.yaml").read_text(encoding="utf-8").replace("id: tb-harbour-m2", "id: mine")
    record = tmp_path / "mine.yaml"
    record.write_text(text, encoding="utf-8")
    parts = ("--board", str(record), "--firmware", "0.94", "--cpu", "kelp-240")
    answers = ("--answer", "danger-signs=none", "--answer", "occasion=after-cpu-change", "--answer", "response=runs")
    done = run("diagnose", *parts, *answers, "--name", "bench", "--ask", stdin="q\n")
    assert done.returncode == 0, done.stderr
    before = report(run, "bench")
    assert before["facts"]["board-video"] == "yes"  # type: ignore[index]
    record.write_text(text.replace("video_outputs: true", "video_outputs: false"), encoding="utf-8")
    after = report(run, "bench")
    assert after["facts"]["board-video"] == "no"  # type: ignore[index]
    shown = json.loads(run("diagnose", *parts, *answers, "--json").stdout)
    assert after["facts"] == shown["facts"]
    assert after["assessment"]["causes"] == shown["causes"]  # type: ignore[index]
    assert after["firmware_plan"] == shown["firmware_plan"]


@pytest.mark.slow
def test_a_record_that_is_gone_is_told(run: Run, tmp_path: Path) -> None:
    """The file of the record was moved: the session goes on without it, and says so in one line."""
    record = tmp_path / "mine.yaml"
    record.write_text((KB / "boards" / "tb-harbour-m2.yaml").read_text(encoding="utf-8").replace("id: tb-harbour-m2", "id: mine"))
    assert run("diagnose", "--board", str(record), "--name", "bench", "--ask", stdin="1\nq\n").returncode == 0
    record.unlink()
    done = run("report", "bench")
    assert done.returncode == 0
    assert f"{record} is not there any more" in done.stdout.replace("\\", "")


@pytest.mark.slow
def test_pasted_codes_are_one_event(terminal: Callable[..., Terminal], knowledge: Knowledge, run: Run) -> None:
    """Codes are kept with their text, stand so in the report, and are taken back whole."""
    with terminal("diagnose", "--name", "bench") as t:
        t.prompt()
        said = t.say("0x15 0x19 0x32 0x55")
        assert "Read as codes." in said
        t.say("q")
        assert t.end() == 0
    (event,) = load("bench", knowledge).history.events
    assert (event.kind, event.text) == (EventKind.CODES, "0x15 0x19 0x32 0x55")
    written = run("report", "bench").stdout
    assert "0x15 0x19 0x32 0x55" in written
    with terminal("resume", "bench") as t:
        t.prompt()
        assert "Taken back: codes" in t.say("u")
        t.say("q")
        assert t.end() == 0
    assert load("bench", knowledge).history.events == ()


@pytest.mark.slow
def test_readings_are_one_event(run: Run, knowledge: Knowledge) -> None:
    """Readings of a meter are kept as they were typed, and weigh as the answers that they are."""
    typed = "5VSB=5.05 12V=9.1 5V=5.02 3V3=3.31"
    done = run("diagnose", "--readings", typed, "--name", "bench", "--ask", stdin="q\n")
    assert done.returncode == 0, done.stderr
    (event,) = load("bench", knowledge).history.events
    assert (event.kind, event.text) == (EventKind.READINGS, typed)
    answered = json.loads(run("diagnose", "--readings", typed, "--json").stdout)
    by_hand = json.loads(
        run("diagnose", "--answer", "standby-voltage=in-range", "--answer", "main-rails=one-outside", "--json").stdout
    )
    assert answered["causes"] == by_hand["causes"]
    assert "12V=9.1" in run("report", "bench").stdout


@pytest.mark.slow
def test_readings_that_answer_nothing_are_refused(run: Run) -> None:
    """One line that says what to do, and exit code 1."""
    for text in ("cheese=3", "12V=banana"):
        done = run("diagnose", "--readings", text, "--json")
        assert (done.returncode, done.stdout) == (1, "")
        assert len(done.stderr.splitlines()) == 1
