"""`nopost kb try --machines` and `--score`: answer sheets and coded cases, through the real entry point."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

COFFEE = Path(__file__).resolve().parent / "coffee_kb"
Run = Callable[..., subprocess.CompletedProcess[str]]
SHEET = """\
case: tb-dead-counter
cause: [no-mains]
answers: {power-lamp: dark, pump-sound: silent}
mends: [other-socket]
"""


@pytest.fixture
def kb(tmp_path: Path) -> Path:
    """A copy of the coffee base."""
    return Path(shutil.copytree(COFFEE, tmp_path / "coffee"))


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """A folder with one sheet."""
    folder = tmp_path / "bench"
    folder.mkdir()
    (folder / "one.yaml").write_text(SHEET, encoding="utf-8")
    return folder


def test_machines(run: Run, kb: Path, bench: Path) -> None:
    """The figures, and with --list the path; no colour, nothing on standard error."""
    done = run("kb", "try", "--machines", str(bench), "--kb", str(kb))
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines()[:2] == ["1 machine played", f"{'Mended':<50}{'100 %':>8}"]
    assert "tb-dead-counter" not in done.stdout
    listed = run("kb", "try", "--machines", str(bench), "--list", "--kb", str(kb), env={"NO_COLOR": "1"}).stdout
    assert listed.startswith(done.stdout)
    assert "tb-dead-counter: mended, no-mains at place 1, wrong fixes 0" in listed
    assert "    power-lamp=dark > *other-socket\n" in listed
    assert "\x1b" not in listed


def test_machines_as_json(run: Run, kb: Path, bench: Path) -> None:
    """Format, version and keys stay what they are."""
    (bench / "two.yaml").write_text(SHEET.replace("no-mains", "gremlins"), encoding="utf-8")
    (bench / "three.yaml").write_text("case: three\n", encoding="utf-8")
    done = run("kb", "try", "--machines", str(bench), "--json", "--kb", str(kb))
    assert (done.returncode, done.stderr) == (0, "")
    found = json.loads(done.stdout)
    assert (found["format"], found["version"], found["machines"], found["mended"]) == ("nopost-machine-trial", 1, 2, 1.0)
    shares = {"mended", "mended_or_found", "cause_first", "area_first"}
    assert set(found) == {"format", "version", "knowledge", "machines", *shares, "averages", "trials", "left_out", "not_known"}
    assert set(found["averages"]) == {"moves", "screens", "wrong_fixes", "wrong_purchases", "cost"}
    assert found["averages"]["moves"] == {"median": 2.0, "mean": 2.0}
    counted = {"moves", "screens", "wrong_fixes", "wrong_purchases", "cost", "cause_place", "area_place", "leading", "confidence"}
    assert [set(trial) for trial in found["trials"]] == [{"case", "causes", "mended", "path", *counted}] * 2
    assert found["trials"][0]["path"][1] == {"is_fix": True, "items": [["other-socket", "starts"]]}
    assert [problem.partition(": ")[0] for problem in found["left_out"]] == [f"{bench}/three.yaml:1"]
    assert ["gremlins" in problem for problem in found["not_known"]] == [True]


def test_what_is_not_known_is_told_at_the_end(run: Run, kb: Path, bench: Path) -> None:
    """One line each, with file and line; the sheets are played all the same."""
    (bench / "one.yaml").write_text(SHEET.replace("{power-lamp", "{steam-lever: loose, power-lamp"), encoding="utf-8")
    (bench / "gone.yaml").symlink_to("/nowhere")
    done = run("kb", "try", "--machines", str(bench), "--kb", str(kb))
    assert (done.returncode, done.stderr) == (0, "")
    assert [line.partition(" →")[0] for line in done.stdout.splitlines()[-2:]] == [
        f"{bench}/gone.yaml: no-file: there is no such file",
        f"{bench}/one.yaml:3: unknown-name: there is no finding 'steam-lever'",
    ]


def test_no_sheet_at_all(run: Run, kb: Path, bench: Path) -> None:
    """Exit code 1, each with its line; and so for an empty folder."""
    (bench / "one.yaml").write_text("case: [\n", encoding="utf-8")
    done = run("kb", "try", "--machines", str(bench), "--kb", str(kb))
    assert (done.returncode, done.stdout) == (1, "")
    assert f"{bench}/one.yaml:2: yaml-syntax" in done.stderr
    (bench / "one.yaml").unlink()
    done = run("kb", "try", "--machines", str(bench), "--kb", str(kb))
    assert (done.returncode, "there are no answer sheets" in done.stderr) == (1, True)


def test_prices_of_a_base(run: Run, kb: Path, bench: Path) -> None:
    """The list beside base.yaml pays the steps; a broken one is told with file and line."""
    (kb / "prices.csv").write_text("id,price,purchase\npower-lamp,5,\nother-socket,70,\n", encoding="utf-8")
    found = json.loads(run("kb", "try", "--machines", str(bench), "--json", "--kb", str(kb)).stdout)
    assert found["trials"][0]["cost"] == 75
    (kb / "prices.csv").write_text("id,price,purchase\npower-lamp,much,\n", encoding="utf-8")
    done = run("kb", "try", "--machines", str(bench), "--kb", str(kb))
    assert (done.returncode, f"{kb}/prices.csv:2: price-list: 'much' is no price" in done.stderr) == (1, True)


def test_old_ids(run: Run, kb: Path, bench: Path) -> None:
    """A sheet of an older edition is played by what its ids became."""
    text = SHEET.replace("no-mains", "no-current").replace("power-lamp", "lamp").replace("other-socket", "try-elsewhere")
    (bench / "one.yaml").write_text(text, encoding="utf-8")
    new = "findings: {lamp: [power-lamp]}\ncauses: {no-current: [no-mains]}\nactions: {try-elsewhere: [other-socket]}\n"
    (kb / "renamed.yaml").write_text(new, encoding="utf-8")
    found = json.loads(run("kb", "try", "--machines", str(bench), "--json", "--kb", str(kb)).stdout)
    assert (found["mended"], found["cause_first"], found["not_known"]) == (1.0, 1.0, [])


def test_score(run: Run, kb: Path) -> None:
    """The figures and the reliability table; with --list each case; as JSON with stable keys."""
    words = ("kb", "try", "--score", str(kb / "cases"), "--kb", str(kb))
    done = run(*words)
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert lines[0] == "1 case scored"
    assert lines[-1].split() == ["80", "to", "100", "%", "1", "95", "%", "100", "%"]
    assert "rattled-after-holidays: tank-empty at place 1; tank-empty 95 %" in run(*words, "--list").stdout
    found = json.loads(run(*words, "--json").stdout)
    assert (found["format"], found["version"], found["cases"], found["log_base"]) == ("nopost-case-score", 1, 1, 2)
    assert set(found["trials"][0]) == {
        *("case", "causes", "cause_place", "area_place", "leading", "chance", "brier", "confidence"),
    }
    assert set(found["calibration"]) == {"mean", "root_mean_square", "largest"}


def test_score_with_labels(run: Run, kb: Path, tmp_path: Path) -> None:
    """Labels go before what the case says; without any label there is nothing to score."""
    labels = tmp_path / "labels.yaml"
    labels.write_text("- {id: rattled-after-holidays, cause: no-mains}\n", encoding="utf-8")
    words = ("kb", "try", "--score", str(kb / "cases"), "--kb", str(kb), "--json")
    assert json.loads(run(*words, "--labels", str(labels)).stdout)["cause_first"] == 0
    case = kb / "cases" / "rattled-after-holidays.yaml"
    case.write_text(
        case.read_text(encoding="utf-8").replace("  cause: tank-empty\n  within: 1", "  next: fill-tank"), encoding="utf-8"
    )
    done = run(*words)
    assert (done.returncode, done.stdout) == (1, "")
    assert "no-label: nothing says what was wrong" in done.stderr


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--machines", ".", "--score", "."), "--machines does not go with --score"),
        (("--machines", ".", "--watch"), "--machines does not go with --watch"),
        (("--score", ".", "--missed"), "--score does not go with --missed"),
        (("--score", ".", "."), "--score does not go with CASES"),
        (("--list",), "--list goes with --machines or --score"),
        (("--labels", __file__), "--labels goes with --score"),
        (("--chart", "x.svg"), "--chart goes with --score"),
        (("--score", ".", "--force"), "--force goes with --chart"),
        (("--machines", ".", "--labels", __file__), "--labels goes with --score"),
        (("--score", ".", "--workers", "1"), "--workers goes with --machines"),
        (("--machines", ""), "the name is empty"),
        (("--machines", "nowhere"), "does not exist"),
    ],
)
def test_options_that_do_not_go_together(run: Run, words: tuple[str, ...], told: str) -> None:
    """Usage errors, exit code 2."""
    done = run("kb", "try", *words)
    assert (done.returncode, told in done.stderr) == (2, True), done.stderr


def test_text_from_sheets_cannot_control_the_terminal(run: Run, kb: Path, bench: Path) -> None:
    """A sheet with an escape sequence is told as no sheet, without the sequence."""
    (bench / "evil.yaml").write_text(SHEET + 'notes: "\\e[2J"\n', encoding="utf-8")
    done = run("kb", "try", "--machines", str(bench), "--kb", str(kb))
    assert done.returncode == 0
    assert "evil.yaml:5: control-character" in done.stdout
    assert "\x1b" not in done.stdout
