"""Every command that makes sense for a coffee machine, on a knowledge base for coffee machines: no error, and no word of PCs."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from cli.terminal import Terminal, plain

Run = Callable[..., CompletedProcess[str]]
At = Callable[..., Terminal]
COFFEE = Path(__file__).resolve().parent / "coffee_kb"
PC_WORDS = re.compile(r"\b(PCs?|POST|BIOS|UEFI|firmware|CPU|motherboard|memory|graphics|screen|monitor|boots?|starts?)\b", re.I)
SEEN = ("--answer", "power-lamp=glows", "--answer", "pump-sound=rattling")
COMMANDS = [
    ("diagnose", *SEEN, "--kb", "KB"),
    ("diagnose", *SEEN, "--kb", "KB", "--json"),
    ("kb", "check", "KB"),
    ("kb", "check", "KB", "--sarif", "-"),
    ("kb", "try", "--kb", "KB"),
    ("kb", "simulate", "--kb", "KB", "--runs", "5"),
    ("kb", "compare", "KB", "KB", "--runs", "5"),
    ("kb", "compare", "KB", "KB", "--runs", "5", "--format", "html"),
    ("kb", "learn", "KB/cases", "--kb", "KB"),
    ("kb", "draw", "map", "--kb", "KB", "--out", "OUT/map.svg"),
    ("kb", "draw", "chart", "--kb", "KB", "--out", "OUT/chart.svg"),
    ("kb", "draw", "page", "all", "--kb", "KB", "--out", "OUT/page.svg"),
    ("kb", "draw", "page", "all", "--kb", "KB", "--out", "OUT/page.pdf"),
    ("kb", "export", "--kb", "KB", "--bif", "-"),
    ("drill", "sheet", "--kb", "KB", "--seed", "3"),
    ("drill", "sheet", "--kb", "KB", "--seed", "3", "--format", "html"),
    ("codes", "list", "--kb", "KB"),
]


@pytest.fixture
def coffee(tmp_path: Path) -> Path:
    """A copy of the knowledge base."""
    return Path(shutil.copytree(COFFEE, tmp_path / "kb"))


@pytest.mark.slow
@pytest.mark.parametrize("asked", COMMANDS, ids=lambda asked: "-".join(asked[:3]))
def test_runs(run: Run, coffee: Path, tmp_path: Path, asked: tuple[str, ...]) -> None:
    """Without an error; what it prints and draws speaks of coffee machines alone."""
    out = tmp_path / "out"
    out.mkdir()
    done = run(*(word.replace("KB", str(coffee)).replace("OUT", str(out)) for word in asked))
    assert done.returncode == 0, done.stderr
    drawn = [path.read_text(encoding="utf-8") for path in sorted(out.glob("*.svg"))]
    assert any(out.iterdir()) == ("--out" in asked)
    for text in (done.stdout, done.stderr, *drawn):
        assert "Traceback" not in text
        assert PC_WORDS.findall(text) == []


@pytest.mark.slow
def test_a_session_to_its_report(run: Run, terminal: At, coffee: Path) -> None:
    """Begun, left, gone on with, ended; listed, reported and learnt from."""
    shown = ""
    with terminal("diagnose", "--kb", str(coffee), "--name", "kitchen") as at:
        at.prompt()
        at.say("1")
        at.say("q")
        shown += at.text
    with terminal("resume", "kitchen", "--kb", str(coffee)) as at:
        at.prompt()
        at.say("it gives coffee")
        shown += at.text
    for asked in (
        ("sessions",),
        ("report", "kitchen", "--kb", str(coffee)),
        ("report", "kitchen", "--kb", str(coffee), "--format", "html"),
        ("kb", "learn", "--sessions", "--kb", str(coffee)),
    ):
        done = run(*asked)
        assert done.returncode == 0, done.stderr + plain(shown)
        shown += done.stdout + done.stderr
    assert "gives coffee" in shown
    assert PC_WORDS.findall(plain(shown)) == []


TABLE = """\
id: pump-beeps
title: Beeps of the coffee machine
family: coffee
form: beeps
weight: 1
codes:
  - {code: "3", phase: any, kind: error, about: other, meaning: The pump draws air}
source: judgement
"""
BEEPS = """\
id: beeped
title: What it beeps
part: pump
answers:
  - {id: quiet, text: No trouble}
  - {id: air, text: The pump draws air}
combine: either
baseline: {quiet: 0.95, air: 0.05}
powered: true
source: judgement
"""


@pytest.mark.slow
def test_with_a_code_table(run: Run, coffee: Path) -> None:
    """Pasted beeps answer the finding that has the role; without the role they answer nothing."""
    (coffee / "codes").mkdir()
    (coffee / "codes" / "pump-beeps.yaml").write_text(TABLE, encoding="utf-8")
    (coffee / "findings" / "beeped.yaml").write_text(BEEPS, encoding="utf-8")
    tank, shows = coffee / "causes" / "tank-empty.yaml", "shows:\n  beeped: {quiet: 0.1, air: 0.9}\n"
    tank.write_text(tank.read_text(encoding="utf-8").replace("shows:\n", shows, 1), encoding="utf-8")
    base = coffee / "base.yaml"
    whole = base.read_text(encoding="utf-8")
    role = "roles:\n  findings:\n    codes-error: {finding: beeped, answers: {none: quiet, other: air}}\n"
    base.write_text(whole + role, encoding="utf-8")
    checked = run("kb", "check", str(coffee))
    assert checked.returncode == 0, checked.stdout
    assert "beeped" not in checked.stdout
    done = run("diagnose", "--codes", "3 beeps", "--kb", str(coffee), "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["causes"][0]["id"] == "tank-empty"
    for asked in (("codes", "show", "pump-beeps"), ("codes", "search", "air"), ("codes", "list")):
        done = run(*asked, "--kb", str(coffee))
        assert done.returncode == 0, done.stderr
        assert "pump draws air" in done.stdout or "pump-beeps" in done.stdout
    base.write_text(whole, encoding="utf-8")
    assert "never-seen" in run("kb", "check", str(coffee)).stdout
    assert run("diagnose", "--codes", "3 beeps", "--kb", str(coffee)).returncode == 1
