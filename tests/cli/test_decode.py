"""`nopost decode` and `nopost diagnose --codes`, through the entry point."""

from __future__ import annotations

import json
import re
import shlex
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import pytest

from cli.conftest import Result
from cli.terminal import Terminal

Run = Callable[..., Result]
Spawn = Callable[..., Terminal]
STOPPED = "10 11 1D 1E 1F 20 53"
KEYS = ["form", "source", "order", "order_given", "notes", "tables", "outcome", "confidence", "stage", "error", "period"]


def test_text(run: Run) -> None:
    """What was read, under which table, where it stopped, the meaning with its table, causes and steps."""
    done = run("decode", stdin=STOPPED)
    assert done.returncode == 0
    assert "stopped at 53" in done.stdout
    assert "[edk2" in done.stdout
    assert "Causes" in done.stdout
    assert "First steps" in done.stdout


@pytest.mark.slow
def test_the_line_that_goes_on(run: Run) -> None:
    """The command at the end can be typed as it stands, and knows what the codes said."""
    line = shlex.split(run("decode", "--board", "tb-harbour-m2", stdin=STOPPED).stdout.splitlines()[-1].partition(": ")[2])
    assert line[:5] == ["nopost", "diagnose", "--ask", "--board", "tb-harbour-m2"]
    done = run(*(word for word in line[1:] if word != "--ask"), "--json")
    assert json.loads(done.stdout)["causes"][0]["id"].startswith("memory")


def test_json(run: Run) -> None:
    """The same as data, with the answers that rules and belief take."""
    data = json.loads(run("decode", "--json", stdin=STOPPED).stdout)
    assert (data["format"], data["version"]) == ("nopost-decode", 1)
    (decoded,) = data["decoded"]
    assert list(decoded)[: len(KEYS)] == KEYS
    assert decoded["outcome"] == "stalled"
    assert decoded["answers"] == {"trace-stage": "memory", "boot-outcome": "stops", "error-code": "memory"}
    assert data["assessment"]["causes"][0]["id"].startswith("memory")


@pytest.mark.slow
def test_file_and_pipe_agree(run: Run, tmp_path: Path) -> None:
    """A file says what a pipe says."""
    path = tmp_path / "seen.txt"
    path.write_text(STOPPED)
    assert run("decode", str(path), "--json").stdout == run("decode", "--json", stdin=STOPPED).stdout


@pytest.mark.slow
def test_drawings(run: Run) -> None:
    """SVG is XML; HTML holds it and what follows."""
    assert ElementTree.fromstring(run("decode", "--format", "svg", stdin=STOPPED).stdout).tag.endswith("svg")
    page = run("decode", "--format", "html", stdin=STOPPED).stdout
    assert "<svg" in page
    assert "First steps" in page
    assert "<script" not in page


@pytest.mark.slow
def test_a_table_can_be_named(run: Run) -> None:
    """--table and --board settle the map; a code that tables read differently is tagged."""
    assert "[coreboot, 100%]" in run("decode", "--table", "coreboot", stdin="E3").stdout
    assert "[edk2, 100%]" in run("decode", "--board", "tb-breakwater-x1", stdin="E3").stdout
    both = run("decode", stdin="E3").stdout
    assert {"edk2", "coreboot"} <= set(re.findall(r"\[([a-z0-9-]+), ", both))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("args", "given", "code", "said"),
    [
        ((), "nothing to see here", 1, "no codes were found"),
        ((), "", 1, "no codes were found"),
        (("--table", "edk3"), "53", 1, "did you mean edk2"),
        (("no-such-file",), "", 1, "cannot be read"),
        (("--batch", "x"), "", 2, "go together"),
    ],
)
def test_errors(run: Run, args: tuple[str, ...], given: str, code: int, said: str) -> None:
    """One clear line each."""
    done = run("decode", *args, stdin=given)
    assert done.returncode == code
    assert said in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.slow
def test_diagnose_takes_codes(run: Run) -> None:
    """--codes gives the answers that decode gives."""
    data = json.loads(run("diagnose", "--codes", STOPPED, "--json").stdout)
    assert data["causes"][0]["id"].startswith("memory")
    said = run("diagnose", "--codes", "no codes at all")
    assert said.returncode == 1
    assert "no codes were found" in said.stderr


@pytest.mark.slow
@pytest.mark.parametrize(("typed", "said"), [("2", "[edk2, 100%]"), ("", "Outcome")])
def test_the_table_is_asked_for(terminal: Spawn, tmp_path: Path, typed: str, said: str) -> None:
    """At a terminal, when the codes leave it open; Enter means not known."""
    path = tmp_path / "seen.txt"
    path.write_text("92 E3")
    with terminal("decode", str(path)) as t:
        t.wait_for("A number, or Enter")
        t.type(typed + "\r")
        assert said in t.wait_for("First steps")
        assert t.end() == 0
