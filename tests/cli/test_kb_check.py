"""`nopost kb check` through pipes and at a terminal: lines, counts, exit codes, JSON, SARIF, the table of codes, mistakes."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from cli.terminal import Terminal, plain, words

Run = Callable[..., CompletedProcess[str]]
TESTS = Path(__file__).resolve().parents[1]
BAD = TESTS / "linting" / "bad"


def made(folder: Path, *spoiled: str) -> Path:
    """The tidy knowledge base with these bad examples laid over it."""
    shutil.copytree(TESTS / "bad_kb" / "_good", folder)
    for name in ("_good", *spoiled):
        shutil.copytree(BAD / name, folder, dirs_exist_ok=True, ignore=shutil.ignore_patterns("expected.txt"))
    return folder


def expected(name: str) -> str:
    """The one line of a bad example."""
    (line,) = (BAD / name / "expected.txt").read_text(encoding="utf-8").splitlines()
    return line


@pytest.fixture
def both(tmp_path: Path) -> Path:
    """One error, one warning."""
    return made(tmp_path / "both", "no-caution", "long-sentence")


def test_errors_then_warnings_then_counts(run: Run, both: Path) -> None:
    """Each problem is one line whatever its length, and errors end with 1."""
    done = run("kb", "check", str(both))
    assert (done.returncode, done.stderr) == (1, "")
    lines = done.stdout.splitlines()
    assert lines[:4] == ["Errors", expected("no-caution"), "Warnings", expected("long-sentence")]
    assert lines[4:] == [f"{both}: 1 error, 1 warning", "What a code means: nopost kb check --explain no-caution"]


def test_warnings_fail_only_when_strict(run: Run, tmp_path: Path) -> None:
    """And a clean one never does."""
    warned = made(tmp_path / "warned", "long-sentence")
    assert [run("kb", "check", str(warned), *more).returncode for more in ((), ("--strict",))] == [0, 1]
    clean = run("kb", "check", str(made(tmp_path / "clean")), "--strict")
    assert (clean.returncode, clean.stdout) == (0, f"{tmp_path / 'clean'}: 0 errors, 0 warnings\n")


def test_only_one_code(run: Run, both: Path) -> None:
    """The others are neither shown nor counted; a wrong code is answered with the nearest."""
    done = run("kb", "check", str(both), "--code", "long-sentence")
    assert (done.returncode, done.stdout.splitlines()[:2]) == (0, ["Warnings", expected("long-sentence")])
    wrong = run("kb", "check", str(both), "--code", "long-sentance")
    assert wrong.returncode == 1
    assert "did you mean long-sentence" in wrong.stderr


def test_json(run: Run, both: Path) -> None:
    """Format, version and keys stay what they are."""
    found = json.loads(run("kb", "check", str(both), "--json").stdout)
    assert set(found) == {"format", "version", "folder", "complete", "errors", "warnings", "problems", "excepted"}
    assert (found["format"], found["version"], found["errors"], found["warnings"]) == ("nopost-kb-check", 1, 1, 1)
    assert all(set(each) == {"file", "line", "code", "severity", "message", "hint"} for each in found["problems"])


def test_sarif(run: Run, both: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """To a file or to the output, with paths from the folder of the run; a file that is there stays, unless forced."""
    monkeypatch.chdir(both.parent)
    done = run("kb", "check", "both", "--sarif", "found.sarif")
    assert done.returncode == 1
    written = Path("found.sarif").read_text(encoding="ascii")
    printed = run("kb", "check", "both", "--sarif", "-")
    assert json.loads(written) == json.loads(printed.stdout)
    places = [each["locations"][0]["physicalLocation"] for each in json.loads(written)["runs"][0]["results"]]
    assert [place["artifactLocation"]["uri"] for place in places] == ["both/actions/swap-supply.yaml", "both/rules/long.yaml"]
    again = run("kb", "check", "both", "--sarif", "found.sarif")
    assert (again.returncode, again.stdout) == (1, "")
    assert "is there already" in again.stderr
    assert run("kb", "check", "both", "--sarif", "found.sarif", "--force", "--json").stdout.startswith("{")
    assert run("kb", "check", "both", "--sarif", "-", "--json").returncode == 2


@pytest.mark.slow
def test_without_a_folder(run: Run, both: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The one here, then kb/ here, then the one that comes with the program."""
    monkeypatch.chdir(both)
    assert ".: 1 error, 1 warning" in run("kb", "check").stdout
    both.rename(both.with_name("kb"))
    monkeypatch.chdir(both.parent)
    assert "kb: 1 error, 1 warning" in run("kb", "check").stdout
    monkeypatch.chdir(both.parent / "home")
    assert run("kb", "check", "--code", "sum").stdout.rstrip().endswith("kb: 0 errors, 0 warnings")


@pytest.mark.slow
def test_what_does_not_load(run: Run, tmp_path: Path) -> None:
    """The loader's problems are shown, the last line says that this is not all, and no choice of codes makes it pass."""
    kb = made(tmp_path / "kb")
    (kb / "hazards" / "wind.yaml").write_text("id: wind\n", encoding="utf-8")
    done = run("kb", "check", str(kb))
    assert done.returncode == 1
    assert "hazards/wind.yaml:1: schema-required: " in done.stdout
    assert "the closer look waits until they are mended" in done.stdout
    assert run("kb", "check", str(kb), "--code", "sum").returncode == 1
    nowhere = run("kb", "check", str(tmp_path / "nowhere"))
    assert (nowhere.returncode, "no-folder" in nowhere.stdout) == (1, True)


@pytest.mark.slow
def test_the_table_of_codes(run: Run) -> None:
    """A line for each code, or one code in full, also as JSON."""
    codes = json.loads(run("kb", "check", "--list", "--json").stdout)["codes"]
    listed = run("kb", "check", "--list", env={"COLUMNS": "200"}).stdout
    assert [line.split()[0] for line in listed.splitlines()] == [each["code"] for each in codes]
    one = run("kb", "check", "--explain", "no-caution")
    assert (one.returncode, one.stdout.splitlines()[0]) == (0, "no-caution  error")
    wrong = run("kb", "check", "--explain", "no-cautions")
    assert (wrong.returncode, wrong.stdout) == (1, "")
    assert "did you mean no-caution or" in wrong.stderr


@pytest.mark.slow
def test_hostile_names(run: Run, both: Path) -> None:
    """What stands in a file cannot control the terminal."""
    (both / "hazards" / "a\x1b[2Jb.yaml").write_text("id: x\n", encoding="utf-8")
    done = run("kb", "check", str(both))
    assert done.returncode == 1
    assert "\x1b" not in done.stdout


@pytest.mark.slow
@pytest.mark.parametrize(("columns", "env", "coloured"), [(60, {}, True), (200, {"NO_COLOR": "1"}, False)])
def test_at_a_terminal(terminal: Callable[..., Terminal], both: Path, columns: int, env: dict[str, str], coloured: bool) -> None:
    """Colours for a person, none with NO_COLOR; lines break between words, and the bar leaves nothing behind."""
    with terminal("kb", "check", str(both), columns=columns, env=env) as shown:
        assert shown.end() == 1
    assert expected("no-caution") in words(shown.text)
    assert ("\x1b[31mno-caution\x1b[0m" in shown.text) is coloured
    assert plain(shown.text).count("Errors") == plain(shown.text).count("1 error, 1 warning") == 1
