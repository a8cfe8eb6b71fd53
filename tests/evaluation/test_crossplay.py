"""Two editions on the same machines, against sums done by hand; and the reviewer's page."""

from __future__ import annotations

import json
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

import small
from cli.terminal import ROOT, nopost
from nopost.evaluation.cross_evaluation import NEW, OLD, cross_evaluate, run_advised
from nopost.evaluation.edition_report import (
    EditionComparison,
    comparison_data,
    html_comparison,
    item_changes,
    markdown_comparison,
)
from nopost.evaluation.episode import Simulator
from nopost.evaluation.simulated_machine import SimulatedMachine
from nopost.knowledge.model import Combine, Knowledge

LAMP = small.finding("lamp", {"dark": 0.5, "lit": 0.5}, Combine.EITHER, misreport=1e-6, cost=1.0)
FIXES = [small.fix("press", 10.0), small.fix("swap", 10.0)]


def base(*, with_lamp: bool) -> Knowledge:
    """Two causes, equally likely, each with a fix of 10; a look of 1 tells them apart, if the edition knows it."""
    shows = {"loose": {"lamp": {"dark": 0.0, "lit": 1.0}}, "dead": {"lamp": {"dark": 1.0, "lit": 0.0}}}
    causes = [
        small.cause(name, 1.0, shows[name] if with_lamp else {}, {fix: 1.0})
        for name, fix in (("loose", "press"), ("dead", "swap"))
    ]
    own = small.base(two_faults=1e-6, unlisted=1e-6, shop=100.0)
    edition = replace(own, edition="2" if with_lamp else "1")
    return small.knowledge([LAMP] if with_lamp else [], causes, FIXES, base_=edition)


@pytest.mark.parametrize("cause", ["loose", "dead"])
def test_one_machine_by_hand(cause: str) -> None:
    """With the lamp: look, then the right fix: 11. Without: one fix comes first, so 10 for one cause and 20 for the other."""
    new, old = Simulator(base(with_lamp=True)), Simulator(base(with_lamp=False))
    spent, starts = run_advised(new, new, SimulatedMachine(new.model, [cause], 1))
    assert spent == pytest.approx(11.0)
    assert starts
    took = run_advised(new, old, SimulatedMachine(new.model, [cause], 1))[0]
    assert took in (10.0, 20.0)
    other = run_advised(new, old, SimulatedMachine(new.model, ["dead" if cause == "loose" else "loose"], 1))[0]
    assert {took, other} == {10.0, 20.0}


def test_worlds_by_hand() -> None:
    """If the new one is right: 11 against 15 on average, and the half unit that one clumsy fix in 200 costs (shop: 100). If the
    old one is, the lamp tells nothing and its look is lost."""
    found = cross_evaluate(base(with_lamp=False), base(with_lamp=True), runs=200, workers=1)
    new, old = found
    assert (new.right, old.right) == (NEW, OLD)
    assert new.new.value == pytest.approx(11.5, abs=0.6)
    assert new.old.value == pytest.approx(15.5, abs=1.2)
    assert new.difference.value + (new.difference.margin or 0) < 0
    assert new.ratio.value == pytest.approx(11 / 15, abs=0.07)
    assert old.new.value == pytest.approx(16.5, abs=1.4)
    assert min(new.repaired_old, new.repaired_new) > 0.98


@pytest.mark.slow
def test_the_same_whatever_the_number_of_workers() -> None:
    """Machines depend on the seed alone."""
    old, new = base(with_lamp=False), base(with_lamp=True)
    assert cross_evaluate(old, new, runs=30, seed=3, workers=1) == cross_evaluate(old, new, runs=30, seed=3, workers=2)


def page() -> EditionComparison:
    """A comparison with a title that would be markup."""
    old, new = base(with_lamp=False), base(with_lamp=True)
    marked = replace(new, causes={**new.causes, "short": small.cause("short", 1.0, {}, {})})
    marked.causes["short"] = replace(marked.causes["short"], title="A <b>short</b> *circuit*")  # type: ignore[index]
    return EditionComparison(old, marked, item_changes(old, marked), [], cross_evaluate(old, new, runs=11, workers=1))


def test_page_escapes() -> None:
    """In HTML and in Markdown a title is no markup."""
    assert "A &lt;b&gt;short&lt;/b&gt;" in html_comparison(page())
    assert r"A \<b\>short\</b\> \*circuit\*" in markdown_comparison(page())


def test_data_is_complete() -> None:
    """Keys and estimates of --json."""
    data = comparison_data(page())
    assert set(data) == {"old", "new", "changes", "cases", "worlds"}
    assert [world["right"] for world in data["worlds"]] == [NEW, OLD]
    assert all(len(world["quotient"]) == 2 for world in data["worlds"])
    json.dumps(data)


def run(home: Path, *args: str) -> subprocess.CompletedProcess[str]:
    """`nopost kb compare` with these words."""
    return nopost("kb", "compare", *args, home=home)


@pytest.fixture(scope="module")
def editions(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The shipped knowledge with a few of its cases, and a copy in which one cause has become rare."""
    folder = tmp_path_factory.mktemp("editions")
    shipped = Path(shutil.copytree(ROOT / "kb", folder / "shipped"))
    cases = sorted((shipped / "cases").glob("*.yaml"))
    spoiled = [path for path in cases if "cause: front-panel-wiring" in path.read_text(encoding="utf-8")]
    for path in set(cases) - {*spoiled, *cases[:5]}:
        path.unlink()
    old, new = Path(shutil.copytree(shipped, folder / "old")), Path(shutil.copytree(shipped, folder / "new"))
    path = new / "causes" / "front-panel-wiring.yaml"
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join("weight: 0.001" if line.startswith("weight:") else line for line in lines) + "\n", encoding="utf-8")
    return old, new


@pytest.mark.slow
def test_equal_bases_are_not_run(tmp_path: Path, editions: tuple[Path, Path]) -> None:
    """A hundred thousand machines of the same files twice: it is said at once that nothing can differ."""
    old, _ = map(str, editions)
    done = run(tmp_path, old, old, "--runs", "100000")
    assert (done.returncode, "nothing was run" in done.stdout) == (0, True)


@pytest.mark.slow
def test_command(tmp_path: Path, editions: tuple[Path, Path]) -> None:
    """A changed number and the case that it spoils are told; a file is not written over unasked."""
    old, new = map(str, editions)
    done = run(tmp_path, old, new, "--runs", "0", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    data = json.loads(done.stdout)
    assert (data["format"], data["version"]) == ("nopost-comparison", 1)
    assert [(c["item"], c["what"]) for c in data["changes"]] == [("front-panel-wiring", "changed")]
    assert [value["place"] for value in data["changes"][0]["values"]] == ["weight"]
    assert any(case["verdict"] in ("worse", "moved") for case in data["cases"])
    out = tmp_path / "page.html"
    assert run(tmp_path, old, new, "--runs", "0", "--format", "html", "--out", str(out)).returncode == 0
    assert "front-panel-wiring" in out.read_text(encoding="utf-8")
    refused = run(tmp_path, old, new, "--runs", "0", "--out", str(out))
    assert (refused.returncode, "is there already" in refused.stderr) == (1, True)
    assert run(tmp_path, old, str(tmp_path / "nowhere")).returncode == 2
