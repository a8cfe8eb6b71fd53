"""`nopost kb learn`: nothing silently, everything item by item, through the real entry point."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from cli.terminal import ROOT, Terminal, environment, nopost, words

CASE = """\
id: closed-{k}
title: A closed case
answers: {{response: nothing, standby-light: dark}}
tried: [{{action: replace-supply, outcome: starts}}]
expect: {{cause: psu-dead}}
source: invented for the test
"""


def run(home: Path, *args: str) -> subprocess.CompletedProcess[str]:
    """`nopost kb learn` with these words."""
    return nopost("kb", "learn", *args, home=home)


@pytest.fixture
def base(tmp_path: Path) -> Path:
    """A copy of the shipped knowledge."""
    return Path(shutil.copytree(ROOT / "kb", tmp_path / "base"))


@pytest.fixture
def cases(tmp_path: Path) -> Path:
    """Thirty closed cases of a dead supply, and an open one."""
    folder = tmp_path / "cases"
    folder.mkdir()
    for k in range(30):
        (folder / f"closed-{k}.yaml").write_text(CASE.format(k=k), encoding="utf-8")
    opened = CASE.format(k="open").replace("expect: {cause: psu-dead}\n", "")
    (folder / "open.yaml").write_text(opened, encoding="utf-8")
    return folder


def contents(folder: Path) -> dict[str, bytes]:
    """Every file and its bytes."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*.yaml"))}


@pytest.mark.slow
def test_narrow(tmp_path: Path, base: Path, cases: Path) -> None:
    """At 60 columns nothing is wider, and the names and numbers of every proposal stand there unbroken."""
    found = json.loads(run(tmp_path, str(cases), "--kb", str(base), "--json").stdout)["proposals"]
    done = nopost("kb", "learn", str(cases), "--kb", str(base), home=tmp_path, env={"COLUMNS": "60"})
    assert max(map(len, done.stdout.splitlines())) <= 60
    told = set(done.stdout.split())
    for proposal in found:
        names = [proposal["cause"], proposal["item"]]
        names += [entry["name"] for entry in proposal["entries"]] if proposal["kind"] == "shows" else []
        assert all(not name or name in told or f"{name}:" in told for name in names)


@pytest.mark.slow
def test_shows_and_writes_nothing(tmp_path: Path, base: Path, cases: Path) -> None:
    """Counts, intervals and how many were left out; no file changes."""
    before = contents(base)
    done = run(tmp_path, str(cases), "--kb", str(base))
    assert (done.returncode, done.stderr) == (0, "")
    shown = words(done.stdout)
    assert "30 closed cases; 1 without a known cause left out" in shown
    assert "psu-dead" in shown
    assert contents(base) == before


def test_json(tmp_path: Path, base: Path, cases: Path) -> None:
    """The weight of the dead supply grows as the Dirichlet mean says: (a n_0 + 30) / (500 + 30) of the sum of weights."""
    data = json.loads(run(tmp_path, str(cases), "--kb", str(base), "--json").stdout)
    assert (data["format"], data["version"], data["cases"], data["open_cases"]) == ("nopost-proposals", 1, 30, 1)
    weight = next(p for p in data["proposals"] if (p["cause"], p["kind"]) == ("psu-dead", "weight"))["entries"][0]
    total = sum(
        float(line.split(":")[1].split("#")[0])
        for path in (base / "causes").glob("*.yaml")
        for line in path.read_text(encoding="utf-8").splitlines()
        if line.startswith("weight:")
    )
    assert weight["new"] == pytest.approx(total * (500 * weight["old"] / total + 30) / 530)
    assert weight["low"] < weight["new"] < weight["high"]


@pytest.mark.slow
def test_patch_applies(tmp_path: Path, base: Path, cases: Path) -> None:
    """The patch turns the base into one that loads and proposes less; it is not written over."""
    patch = tmp_path / "learned.diff"
    done = run(tmp_path, str(cases), "--kb", str(base), "--patch", str(patch))
    assert done.returncode == 0
    again = run(tmp_path, str(cases), "--kb", str(base), "--patch", str(patch))
    assert (again.returncode, "is there already" in again.stderr) == (1, True)
    if shutil.which("patch") is None:
        pytest.skip("no patch program here")
    applied = subprocess.run(["patch", "-p1", "-i", str(patch)], cwd=base, capture_output=True, text=True, check=False)
    assert applied.returncode == 0, applied.stdout
    assert "closed cases: 30" in (base / "causes" / "psu-dead.yaml").read_text(encoding="utf-8")
    assert run(tmp_path, str(cases), "--kb", str(base), "--json").returncode == 0


@pytest.mark.slow
def test_accept_one_by_one(tmp_path: Path, base: Path, cases: Path) -> None:
    """The first is accepted, the second is not, then the person leaves: only the first is written."""
    before = contents(base)
    with Terminal(["kb", "learn", str(cases), "--kb", str(base), "--accept"], environment(tmp_path)) as terminal:
        for number, key in enumerate("ynq", 1):
            terminal.wait_for(f"Proposal {number} of")
            terminal.wait_for("q leave:", terminal.text.rindex(f"Proposal {number} of"))
            terminal.type(f"{key}\n")
        assert terminal.end() == 0
        assert "1 accepted, 1 file written" in words(terminal.text)
    after = contents(base)
    changed = [name for name in before if before[name] != after[name]]
    assert changed == ["causes/psu-dead.yaml"]
    old, new = (each["causes/psu-dead.yaml"].decode().splitlines() for each in (before, after))
    gone = [line for line in old if line not in new]
    assert [line.split(":")[0].strip() for line in gone] == ["weight", "weight"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("args", "code", "said"),
    [
        ([], 2, "name case files or folders"),
        (["{cases}", "--accept"], 2, "there is no terminal"),
        (["{cases}", "--accept", "--json"], 2, "goes with neither"),
        (["{cases}/open.yaml"], 1, "none of the 1 cases says"),
        (["--sessions"], 1, "no session is kept that ended"),
    ],
)
def test_wrong_words(tmp_path: Path, base: Path, cases: Path, args: list[str], code: int, said: str) -> None:
    """One clear line each."""
    done = run(tmp_path, *(arg.format(cases=cases) for arg in args), "--kb", str(base))
    assert done.returncode == code
    assert said in words(done.stderr)
    assert "Traceback" not in done.stderr


@pytest.mark.slow
def test_kept_sessions_count(tmp_path: Path, base: Path) -> None:
    """A session that ended with a machine that starts is a closed case."""
    with Terminal(["diagnose", "--name", "bench", "--kb", str(base)], environment(tmp_path)) as terminal:
        terminal.past("What is there")
        terminal.prompt()
        for line in ("1", "new", "runs"):
            terminal.say(line)
    path = tmp_path / "sessions" / "bench.json"
    data = json.loads(path.read_text(encoding="utf-8"))
    at = data["events"][0]["at"]
    data["events"] += [
        {"kind": "tried", "item": "reseat-memory", "value": "starts", "at": at},
        {"kind": "end", "item": "memory-not-seated", "value": "starts", "at": at},
    ]
    path.write_text(json.dumps(data), encoding="utf-8")
    found = json.loads(run(tmp_path, "--sessions", "--strength", "1", "--kb", str(base), "--json").stdout)
    assert found["cases"] == 1
    assert ("memory-not-seated", "reseat-memory") in {(p["cause"], p["item"]) for p in found["proposals"]}


JUDGED = """\
situations:
  - id: dead-but-lit
    answers: {response: nothing, standby-light: lit, occasion: worked-then-stopped}
    judged: {power-button-broken: 0.9}
"""


@pytest.mark.slow
def test_judged_situations_give_a_patch_that_applies(tmp_path: Path, base: Path) -> None:
    """Told how far away the numbers are; the patch fits the base, which has no problems then and says where numbers come from."""
    (tmp_path / "judged.yaml").write_text(JUDGED, encoding="utf-8")
    asked = ("--judged", str(tmp_path / "judged.yaml"), "--spread", "2", "--kb", str(base))
    facts = json.loads(run(tmp_path, *asked, "--json").stdout)
    assert facts["bits_after"] < facts["bits_before"]
    done = run(tmp_path, *asked, "--patch", str(tmp_path / "fitted.diff"))
    assert "1 judged situation. The judgement is" in words(done.stdout)
    subprocess.run(["patch", "-p1", "-i", str(tmp_path / "fitted.diff")], cwd=base, check=True, capture_output=True)
    assert "fitted to judged situations: 1" in (base / "causes" / "power-button-broken.yaml").read_text(encoding="utf-8")
    assert nopost("kb", "check", str(base), home=tmp_path).returncode == 0


def test_judged_goes_without_cases(tmp_path: Path, base: Path, cases: Path) -> None:
    """One line says so."""
    (tmp_path / "judged.yaml").write_text(JUDGED, encoding="utf-8")
    done = run(tmp_path, str(cases), "--judged", str(tmp_path / "judged.yaml"), "--kb", str(base))
    assert (done.returncode, "--judged goes without cases" in words(done.stderr)) == (2, True)
