"""`nopost kb simulate` through the real entry point, on a knowledge base small enough to be simulated in no time."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import time
from pathlib import Path
from typing import Any

import pytest

from cli.terminal import ROOT, command, environment, nopost, words
from nopost.evaluation.strategies import STRATEGIES
from nopost_cli.kb.simulate import NAMES

GOOD = ROOT / "tests" / "bad_kb" / "_good"


def run(home: Path, *args: str, columns: int = 80) -> subprocess.CompletedProcess[str]:
    """`nopost kb simulate` with these words."""
    return nopost("kb", "simulate", *args, home=home, env={"COLUMNS": str(columns)})


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A copy of the smallest good knowledge base, with a checklist."""
    folder = Path(shutil.copytree(GOOD, tmp_path / "kb"))
    fix = next(
        path.stem for path in sorted((folder / "actions").glob("*.yaml")) if "kind: fix" in path.read_text(encoding="utf-8")
    )
    (folder / "checklist.yaml").write_text(f"title: Usual order\norder: [{{do: {fix}}}]\nsource: judgement\n", encoding="utf-8")
    return folder


def data(home: Path, *args: str) -> dict[str, Any]:
    """What --json prints."""
    done = run(home, *args, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    found: dict[str, Any] = json.loads(done.stdout)
    return found


@pytest.mark.slow
@pytest.mark.parametrize("columns", [60, 200])
def test_tables(tmp_path: Path, small: Path, columns: int) -> None:
    """All strategies, the dangers, the losses; no line is wider than the terminal."""
    done = run(tmp_path, "--kb", str(small), "--runs", "11", columns=columns)
    assert (done.returncode, done.stderr) == (0, "")
    shown = words(done.stdout)
    for part in ("11 machines drawn from", "The advice", "Oracle", "Fixed checklist", "Random fix", "risky steps"):
        assert part in shown
    assert "more than the oracle" in shown
    assert max(map(len, done.stdout.splitlines())) <= columns


@pytest.mark.slow
def test_json_is_the_same_on_any_number_of_cores(tmp_path: Path, small: Path) -> None:
    """Format, version, keys; one worker and two."""
    asked = ("--kb", str(small), "--runs", "30", "--seed", "5", "--rows")
    found = data(tmp_path, *asked, "--workers", "1")
    assert found == data(tmp_path, *asked, "--workers", "2")
    assert (found["format"], found["version"], found["runs"], found["seed"]) == ("nopost-simulation", 2, 30, 5)
    assert set(found) == {
        *("format", "version", "knowledge", "runs", "seed", "strategies", "risky_steps", "regret", "regret_by_cause", "episodes")
    }
    assert len(found["episodes"]) == 30 * len(found["strategies"])


def test_chosen_strategies_and_no_checklist(tmp_path: Path, small: Path) -> None:
    """Only those; a base without a checklist is measured without it."""
    (small / "checklist.yaml").unlink()
    found = data(tmp_path, "--kb", str(small), "--runs", "5", "--strategies", "ratio, advice")
    assert [s["strategy"] for s in found["strategies"]] == ["advice", "ratio"]
    assert (found["risky_steps"], found["regret"]) == (None, None)


@pytest.mark.parametrize(
    ("args", "code", "line"),
    [
        (("--strategies", "advise"), 1, "nopost: no strategy is called 'advise'; did you mean advice?"),
        (("--cause", "memory-not-seatd"), 1, "did you mean memory-not-seated"),
        (("--rows",), 2, "--rows goes with --json"),
        (("--runs", "0"), 2, "--runs"),
        (("--kb", "nowhere"), 1, "there is no such folder"),
    ],
)
def test_mistakes(tmp_path: Path, args: tuple[str, ...], code: int, line: str) -> None:
    """One clear line, and the exit code."""
    done = run(tmp_path, *args)
    assert (done.returncode, done.stdout) == (code, "")
    assert line in done.stderr
    assert "Traceback" not in done.stderr


def test_help_names_every_strategy() -> None:
    """The names stand there in full, so that help needs no engine."""
    assert NAMES.split(", ") == list(STRATEGIES)


def test_a_broken_checklist(tmp_path: Path, small: Path) -> None:
    """File, line, what to do."""
    (small / "checklist.yaml").write_text("title: Mine\norder:\n- do: nothing-like-it\nsource: judgement\n", encoding="utf-8")
    done = run(tmp_path, "--kb", str(small))
    assert done.returncode == 1
    assert "checklist.yaml:3: list-name: no fix is called 'nothing-like-it'" in done.stderr


@pytest.mark.slow
def test_interrupted(tmp_path: Path) -> None:
    """Ctrl-C ends it, its workers too, without a traceback."""
    env = environment(tmp_path)
    work = subprocess.Popen(
        command("kb", "simulate", "--runs", "5000", "--strategies", "ratio,random"),
        env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    time.sleep(4)
    os.killpg(work.pid, signal.SIGINT)
    out, err = work.communicate(timeout=60)
    assert (work.returncode, out, err.strip()) == (130, "", "Left.")
