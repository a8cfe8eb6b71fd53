"""`nopost rails` through the real entry point: typed, from tables, asked at a terminal; and the line it ends with works."""

from __future__ import annotations

import json
import shlex
import shutil
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess
from typing import Any

import pytest

from cli.terminal import Terminal, words

Run = Callable[..., "CompletedProcess[str]"]
GOOD = Path(__file__).resolve().parents[1] / "bad_kb" / "_good"
READINGS = ("12V=11.3", "5V=5.02", "5VSB=5.1", "3.3V=3.28", "-12V=-11.8", "PS_ON=0.2", "PWR_OK=4.8", "cell=2.71")


def data(run: Run, *arguments: str, stdin: str = "") -> dict[str, Any]:
    """What --json prints."""
    done = run("rails", *arguments, "--json", stdin=stdin)
    assert (done.returncode, done.stderr) == (0, "")
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_json(run: Run) -> None:
    """Format, version and keys stay what they are; a reading that begins with a minus is no option."""
    found = data(run, *READINGS)
    assert (found["format"], found["version"]) == ("nopost-rails", 1)
    assert set(found) == {
        *(
            "format",
            "version",
            "guides",
            "state",
            "state_taken",
            "alone",
            "cautions",
            "readings",
            "verdict",
            "answers",
            "command",
        ),
    }
    assert [(reading["name"], reading["value"]) for reading in found["readings"]] == [
        *(("+12V", 11.3), ("+5V", 5.02), ("+5VSB", 5.1), ("+3.3V", 3.28), ("-12V", -11.8), ("PS_ON#", 0.2), ("PWR_OK", 4.8)),
        ("cell", 2.71),
    ]
    assert [ruling["grade"] for ruling in found["readings"][0]["rulings"]] == ["too-little", "within"]
    assert found["answers"] == {"standby-voltage": "in-range", "power-good": "high", "cell-voltage": "ageing"}
    assert [caution["id"] for caution in found["cautions"]][:2] == ["live-test", "never-open-supply"]


@pytest.mark.slow
@pytest.mark.parametrize("columns", ["60", "200"])
def test_screen(run: Run, columns: str) -> None:
    """Cautions before the first reading, every line within the width, both guides, and the verdict."""
    done = run("rails", *READINGS, env={"COLUMNS": columns})
    assert (done.returncode, done.stderr) == (0, "")
    assert max(map(len, done.stdout.splitlines())) <= int(columns)
    shown = words(done.stdout)
    assert (
        0 <= shown.index("CAUTION: Working on a machine that is switched on") < shown.index("Never open") < shown.index("11.3 V")
    )
    assert "Local codes and licensed practice" in shown
    assert "0.1 V under 11.4" in shown
    assert "inside 11.2 to 12.6" in shown


@pytest.mark.slow
@pytest.mark.parametrize(
    ("readings", "said"),
    [
        (("5VSB=5", "PS_ON@pressed=4.9"), {"standby-voltage": "in-range", "ps-on-signal": "stays-high"}),
        (("12V=12", "5V=5", "3V3=3.3", "PWR_OK=0.1"), {"main-rails": "all-within", "power-good": "low"}),
    ],
)
def test_the_line_it_ends_with_is_accepted(run: Run, readings: tuple[str, ...], said: dict[str, str]) -> None:
    """`nopost diagnose` takes the answers as they are printed."""
    found = data(run, *readings)
    assert found["answers"] == said
    arguments = [word for word in shlex.split(found["command"])[1:] if word != "--ask"]
    done = run(*arguments, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["format"] == "nopost-assessment"


@pytest.mark.slow
def test_the_printed_line_is_one_command(run: Run) -> None:
    """Copied from the screen with its backslashes, it is the command of --json."""
    shown = run("rails", "5VSB=5", "cell=3").stdout
    printed = shown[shown.index("nopost diagnose") :].replace("\\\n", "")
    assert shlex.split(printed) == shlex.split(data(run, "5VSB=5", "cell=3")["command"])


@pytest.mark.slow
def test_table(run: Run, tmp_path: Path) -> None:
    """A file and standard input are the same, and join what is typed."""
    table = "pin;volts;state;time\n9;5,05;standby;\n16;4,9;standby;\n8;4,8;running;320 ms\n"
    path = tmp_path / "bench.csv"
    path.write_text(table, encoding="utf-8")
    found = data(run, "--file", str(path), "cell=3.1")
    assert [reading["name"] for reading in found["readings"]] == ["cell", "+5VSB", "PS_ON#", "PWR_OK", "T3"]
    assert [ruling["grade"] for ruling in found["readings"][-1]["rulings"]] == ["within", "too-much"]
    assert found["readings"][1]["at"] == f"{path}:2"
    assert len(data(run, "--file", "-", stdin=table)["readings"]) == 4


@pytest.mark.slow
@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        ((), 2, "there is no terminal to ask on"),
        (("foo=3",), 1, "'foo' is nothing that has limits"),
        (("12V",), 1, "there is no reading after it"),
        (("--gide", "x"), 2, "No such option"),
        (("--guide", "x", "12V=12"), 1, "there are atx-2-0, atx-3-0, both"),
        (("--state", "asleep", "12V=12"), 2, "asleep"),
        (("--file", "none.csv"), 1, "none.csv: cannot be read"),
        (("--file", "-"), 1, "no reading in it"),
        (("12V=\x1b[2J3",), 1, "is no reading"),
    ],
)
def test_refused(run: Run, arguments: tuple[str, ...], code: int, said: str) -> None:
    """One clear line, and nothing that controls the terminal."""
    done = run("rails", *arguments)
    assert (done.returncode, said in words(done.stderr), done.stdout) == (code, True, "")
    assert "\x1b" not in done.stderr


@pytest.mark.slow
def test_without_limits(run: Run, tmp_path: Path) -> None:
    """A knowledge base of other machines has none, and says so."""
    kb = tmp_path / "kb"
    shutil.copytree(GOOD, kb, ignore=shutil.ignore_patterns("limits"))
    done = run("rails", "12V=12", "--kb", str(kb))
    assert (done.returncode, done.stderr.count("\n")) == (1, 1)
    assert "no limits for voltages" in done.stderr


@pytest.mark.slow
def test_other_limits(run: Run, tmp_path: Path) -> None:
    """Names and limits are those of the knowledge base, not of a PC."""
    kb = tmp_path / "kb"
    shutil.copytree(GOOD, kb)
    found = data(run, "9V=8.4", "GO=0", "cell=2.4", "--state", "running", "--kb", str(kb))
    assert [[ruling["grade"] for ruling in reading["rulings"]] for reading in found["readings"]] == [
        ["too-little"],
        ["wrong-level"],
        [],
    ]
    assert found["answers"] == {"voltage": "low"}
    assert f"--kb {kb}" in found["command"]


@pytest.mark.slow
def test_asked(terminal: Callable[..., Terminal]) -> None:
    """Cautions, then one contact after the other; a slip is asked again; Enter passes; a missing standby ends it."""
    with terminal("rails", columns=80) as shown:
        first = shown.wait_for("Go on [y/N]:")
        assert words(first).index("CAUTION: Working on a machine") < words(first).index("Meter on DC volts")
        shown.type("y\n")
        shown.wait_for("pin 9 of the wide board plug (purple): about 5 V +5VSB:")
        shown.type("foo\n")
        shown.wait_for("'foo' is no number; write a number such as 11.3. +5VSB:")
        shown.type("230\n")
        shown.wait_for("mains voltage")
        shown.wait_for("+5VSB once more:")
        shown.type("0,02\n")
        shown.wait_for("PS_ON#: pin 16 of the wide board plug (green): 2 V or more PS_ON#:")
        shown.type("\n")
        shown.wait_for("the other rails need not be measured")
        shown.wait_for("machine unplugged cell:")
        shown.type("2,71 V\n")
        assert shown.end() == 0
        assert "--answer standby-voltage=none \\ --answer cell-voltage=ageing" in words(shown.text)
        assert words(shown.text).count("CAUTION: Working on a machine") == 1


@pytest.mark.slow
def test_not_for_beginners(terminal: Callable[..., Terminal]) -> None:
    """Who never measured a live machine is asked for the cell only; with nothing read there is nothing to judge."""
    with terminal("rails") as shown:
        shown.wait_for("Go on [y/N]:")
        shown.type("\n")
        shown.wait_for("leave the live machine alone")
        shown.wait_for("machine unplugged cell:")
        shown.type("\n")
        assert shown.end() == 1
        assert "pin 9" not in shown.text
        assert "there is no reading to judge" in words(shown.text)


def leave(shown: Terminal) -> None:
    """Press Ctrl-C, again only when nothing comes of it: between prompt and reading it can get lost."""
    for _ in range(20):
        shown.type("\x03")
        while shown._come(3.0):
            pass
        if "Stopped" in shown.text:
            return


@pytest.mark.slow
def test_interrupted(terminal: Callable[..., Terminal]) -> None:
    """Ctrl-C judges what was read so far."""
    with terminal("rails", "--state", "running") as shown:
        shown.wait_for("Go on [y/N]:")
        shown.type("y\n")
        shown.wait_for("about 12 V +12V:")
        shown.type("10.6\n")
        shown.wait_for("about 12 V +12V2:", len(shown.text))
        leave(shown)
        assert shown.end() == 0
        assert "What was read so far is judged" in words(shown.text)
        assert "--answer main-rails=one-outside" in words(shown.text)
