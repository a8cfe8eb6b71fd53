"""`nopost verify`: from a dump, from standard input, and asked at the terminal."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.terminal import Terminal, words
from firmware import dumps
from nopost.firmware.check_result import Level
from nopost.firmware.verify.machine import Machine
from nopost.firmware.verify.recognise import check_board
from nopost.knowledge.model import Knowledge
from nopost_cli.verify import board_names

Run = Callable[..., "subprocess.CompletedProcess[str]"]


def test_dump(run: Run, tmp_path: Path, knowledge: Knowledge) -> None:
    """Board and CPU are found by their names; a slow module is wrong, and the settings that an update resets are listed."""
    modules = [dumps.module("DIMM_A2", 8192, 3600, 2400), dumps.module("DIMM_B2")]
    table = dumps.table(modules=modules)
    path = tmp_path / "dump.bin"
    path.write_bytes(dumps.entry_30(table) + table)
    options = (str(path), "--firmware", "0.110", "--slots", "A2,B2")
    done = run("verify", *options)
    assert (done.returncode, done.stderr) == (0, "")
    told = words(done.stdout)
    assert "ok The firmware is 0.110 of 06/03/2031, as planned." in told
    assert "wrong A2: 8 GiB, DDR4, rated 3600 MT/s, runs at 2400 MT/s" in told
    assert "Checks: 9 ok, 1 wrong." in told
    for setting in knowledge.base.reset_settings:
        assert words(setting) in told
    data = json.loads(run("verify", *options, "--json").stdout)
    assert (data["format"], data["version"], data["board"], data["cpu"]) == ("nopost-verify", 1, "tb-harbour-m2", "kelp-450")
    assert [c["id"] for c in data["checks"] if c["verdict"] != "ok"] == ["module A2"]
    assert data["wrong"] == 1
    assert {"id", "verdict", "line", "do"} == set(data["checks"][0])
    large = json.loads(run("verify", *options, "--size", "16", "--json").stdout)
    assert [c["verdict"] for c in large["checks"] if c["id"] == "memory-size"] == ["wrong"]
    assert "SECRET" not in json.dumps(data)


@pytest.mark.slow
def test_slots_in_small_letters(run: Run, tmp_path: Path) -> None:
    """Slots are taken as the board writes them, whether the board was named or found by its name."""
    path = tmp_path / "dump.bin"
    path.write_bytes(dumps.table())
    for more in ((), ("--board", "tb-harbour-m2")):
        done = run("verify", str(path), "--slots", "a2, b2", *more)
        assert (done.returncode, done.stderr) == (0, "")
        assert "All modules are seen: A2, B2." in words(done.stdout)


@pytest.mark.parametrize(
    ("typed", "level"),
    [
        ("TB-Harbour M2 1.1", Level.GOOD),
        ("TB-Harbour M2 rev 1.1", Level.GOOD),
        ("TB-Harbour M2, Revision 1.1", Level.GOOD),
        ("tb-harbour m2 Rev. 1.1", Level.GOOD),
        ("TB-Harbour M2", Level.CHECK),
        ("TB-Harbour M2 2.0", Level.FIX),
        ("TB-Harbour M2W 1.1", Level.FIX),
        ("TB-Harbour M2W", Level.FIX),
        ("", Level.CHECK),
    ],
)
def test_typed_board_names(knowledge: Knowledge, typed: str, level: Level) -> None:
    """A revision is written in many ways; another one or a suffix is never taken for this board."""
    assert check_board(knowledge.boards["tb-harbour-m2"], Machine(board=board_names(typed))).level is level


@pytest.mark.slow
def test_several_wrong(run: Run, tmp_path: Path) -> None:
    """With more than one fault it says where to begin."""
    path = tmp_path / "dump.bin"
    path.write_bytes(dumps.table(version="0.90"))
    assert "Begin with the first that is wrong" in words(run("verify", str(path), "--firmware", "0.110").stdout)
    path.write_bytes(dumps.table())
    assert "Begin with" not in run("verify", str(path)).stdout


@pytest.mark.slow
def test_refused(run: Run, tmp_path: Path) -> None:
    """One line for what is no table, and for a release or slot that the board does not have."""
    text, table = tmp_path / "text", tmp_path / "table"
    text.write_text("Base Board Information\n")
    table.write_bytes(dumps.table())
    for options, told in (
        ((str(text),), "this is text"),
        ((str(tmp_path / "none"),), "cannot be read"),
        ((str(tmp_path),), "cannot be read"),
        ((str(table), "--firmware", "0.111"), "0.110"),
        ((str(table), "--slots", "A2,C2"), "C2"),
        (("-",), "empty"),
    ):
        done = run("verify", *options)
        assert (done.returncode, done.stdout) == (1, "")
        assert told in words(done.stderr)
        assert {"-": "standard input", str(text): str(text)}.get(options[0], "") in done.stderr
    assert run("verify").returncode == 2


@pytest.mark.slow
def test_asked(terminal: Callable[..., Terminal]) -> None:
    """Without a dump a few values are asked; Enter leaves one out, and a word is no number."""
    with terminal("verify", "--firmware", "0.110", "--slots", "A2,B2", "--rated", "3600") as t:
        for question, typed in (
            ("Board and revision", "TB-Harbour M2 rev 1.1"),
            ("Firmware version", "0.98"),
            ("CPU name", "Kelp 450"),
            ("Cores", "many"),
            ("A number, please", "8"),
            ("Threads", ""),
            ("Slots in which", "a2"),
            ("Size of each in GiB", "8,8"),
            ("1 number, please", "8"),
            ("Present rate", "2133"),
        ):
            t.wait_for(question)
            t.type(f"{typed}\n")
        assert t.end() == 0
        told = words(t.text)
    assert "wrong The firmware is 0.98, an older release; 0.110 was planned." in told
    assert "ok 8 cores, as the record says." in told
    assert "cannot tell The number of threads is not told." in told
    assert "1 module of 2 seen, none in B2." in told
    assert "rated 3600 MT/s, runs at 2133 MT/s" in told


@pytest.mark.slow
def test_asked_without_options(terminal: Callable[..., Terminal]) -> None:
    """Without any option what was planned is asked first; a name or slot that is not known is asked again."""
    with terminal("verify") as t:
        for question, typed in (
            ("Board record", "tb-harbor-m2"),
            ("did you mean tb-harbour-m2", "tb-harbour-m2"),
            ("CPU record", "kelp-450"),
            ("Release that was", "0.111"),
            ("did you mean", "0.110"),
            ("Slots that hold", "A2,C2"),
            ("has no slot C2", "a2,b2"),
            ("Size of each module", "16"),
            ("Rate on the", "3600"),
            ("Board and revision", "TB-Harbour M2 rev 1.1"),
            ("Firmware version", "0.110"),
            ("CPU name", "Kelp 450"),
            ("Cores", "8"),
            ("Threads", "16"),
            ("Slots in which", "A2,B2"),
            ("Size of each in GiB", "16,8"),
            ("Present rate", "3600"),
        ):
            t.wait_for(question)
            t.type(f"{typed}\n")
        assert t.end() == 0
        told = words(t.text)
    assert "wrong 16 GiB each were put in; seen: B2: 8 GiB." in told
    assert "note The modules are not alike: sizes 16 GiB and 8 GiB." in told
    assert "Checks: 10 ok, 1 wrong, 1 note." in told
