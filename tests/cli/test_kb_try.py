"""`nopost kb try`: case files against the knowledge, through the real entry point."""

from __future__ import annotations

import json
import shutil
import subprocess
import time
from pathlib import Path
from typing import Any

import pytest

from cli.terminal import ROOT, command, environment, nopost, words

MET = "tb-slipped-screwdriver"


def run(home: Path, *args: str) -> subprocess.CompletedProcess[str]:
    """`nopost kb try` with these words."""
    return nopost("kb", "try", *args, home=home)


@pytest.fixture
def case(tmp_path: Path) -> Path:
    """A copy of a case that comes out as expected."""
    return Path(shutil.copy(ROOT / "kb" / "cases" / f"{MET}.yaml", tmp_path / f"{MET}.yaml"))


def data(home: Path, *args: str) -> dict[str, Any]:
    """What --json prints."""
    found: dict[str, Any] = json.loads(run(home, *args, "--json").stdout)
    return found


@pytest.mark.slow
def test_own_cases(tmp_path: Path) -> None:
    """Without files the cases of the knowledge base run, and all are met."""
    done = run(tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    count = len(list((ROOT / "kb" / "cases").glob("*.yaml")))
    assert f"{count} of {count} cases as expected" in words(done.stdout)


@pytest.mark.slow
def test_missed_cause_rule_and_step(tmp_path: Path, case: Path) -> None:
    """Each thing that is not as expected is named, and the exit code says so."""
    text = case.read_text(encoding="utf-8")
    expect = "expect:\n  next: clear-settings\n  fires: [liquid-stops-the-work]\n"
    case.write_text(text.replace("expect:\n", expect).replace("board-part-knocked-off", "monitor-fault"), encoding="utf-8")
    done = run(tmp_path, str(case))
    assert (done.returncode, done.stderr) == (1, "")
    shown = words(done.stdout)
    assert f"{MET}: cause monitor-fault: at place" in shown
    assert "expected clear-settings" in shown
    assert "rule liquid-stops-the-work did not fire" in shown
    assert "0 of 1 cases as expected" in shown


@pytest.mark.slow
def test_json(tmp_path: Path, case: Path) -> None:
    """Format, version and keys stay what they are."""
    found = data(tmp_path, str(case.parent))
    assert (found["format"], found["version"], found["cases"], found["met"]) == ("nopost-case-trial", 1, 1, 1)
    keys = {"case", "title", "cause", "rank", "within", "probability", "leading", "next_step", "missed", "contradictions", "met"}
    assert [set(trial) for trial in found["trials"]] == [keys]
    assert found["trials"][0]["rank"] == 1


@pytest.mark.slow
@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("response: runs", "response: flies"),
        ("cause: board-part-knocked-off", "cause: gremlins"),
        ("action: clear-settings", "action: clear-everything"),
    ],
)
def test_unknown_names_have_a_line(tmp_path: Path, case: Path, old: str, new: str) -> None:
    """What the knowledge base does not know is told with file and line."""
    text = case.read_text(encoding="utf-8")
    line = 1 + next(number for number, each in enumerate(text.splitlines()) if old in each)
    case.write_text(text.replace(old, new), encoding="utf-8")
    done = run(tmp_path, str(case))
    assert done.returncode == 1
    assert f"{case.name}:{line}: unknown-name" in done.stderr


@pytest.mark.slow
def test_watch_runs_again(tmp_path: Path, case: Path) -> None:
    """Saving a file runs it again."""
    watching = command("kb", "try", str(case), "--watch")
    lines: list[str] = []
    with subprocess.Popen(watching, env=environment(tmp_path), stdout=subprocess.PIPE, text=True, bufsize=1) as process:
        assert process.stdout is not None
        for line in process.stdout:
            lines.append(line)
            if "1 of 1 cases as expected" in line:
                time.sleep(0.01)  # a file system may count no finer
                case.write_text(case.read_text(encoding="utf-8").replace("board-part-knocked-off", "nothing"), encoding="utf-8")
            if "unknown-name" in line:
                process.kill()
    assert any("unknown-name" in line for line in lines)
