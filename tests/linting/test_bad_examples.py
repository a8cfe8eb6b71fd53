"""What the closer look finds, one folder for each code: the exact lines that are reported.

A folder in tests/linting/bad/ holds the files that spoil the tiny good knowledge base, and the lines in expected.txt.
What would need many files is made here.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from nopost.knowledge.problem import Severity
from nopost.linting.runner import PROBLEM_CODES, lint

BAD = Path(__file__).resolve().parent / "bad"
FOLDERS = sorted(path for path in BAD.iterdir() if path.is_dir() and not path.name.startswith("_"))


def lines(kb: Path) -> list[str]:
    """The problems as they are shown."""
    return [str(problem) for problem in lint(kb).problems]


def test_the_tidy_one_is_clean(tidy_kb: Path) -> None:
    """Or the others would prove nothing."""
    found = lint(tidy_kb)
    assert (found.problems, found.excepted, found.complete) == ((), (), True)


@pytest.mark.parametrize("spoiled", FOLDERS, ids=lambda path: path.name)
def test_spoiled(tidy_kb: Path, spoiled: Path) -> None:
    """Exactly the expected lines, the folder's own code among them, each with a hint and the severity of its code."""
    shutil.copytree(spoiled, tidy_kb, dirs_exist_ok=True, ignore=shutil.ignore_patterns("expected.txt"))
    found = lint(tidy_kb)
    assert [str(problem) for problem in found.problems] == (spoiled / "expected.txt").read_text(encoding="utf-8").splitlines()
    assert spoiled.name in {problem.code for problem in found.problems}
    assert all(problem.hint and problem.severity is PROBLEM_CODES[problem.code].severity for problem in found.problems)


# What would need many files, or a base.yaml of its own, is made here.


def _into_base(kb: Path, where: str, behind: str, before: str = "") -> None:
    path = kb / "base.yaml"
    text = path.read_text(encoding="utf-8")
    assert where in text
    path.write_text(text.replace(where, f"{before}{where}{behind}"), encoding="utf-8")


def _more_causes(kb: Path, weights: list[float]) -> None:
    """Causes of these weights, each with a finding that shows it alone."""
    cause = (kb / "causes" / "weak-supply.yaml").read_text(encoding="utf-8")
    finding = (kb / "findings" / "fan.yaml").read_text(encoding="utf-8")
    for number, weight in enumerate(weights):
        own = finding.replace("id: fan", f"id: look-{number}").replace("title: The fan", f"title: Look {number}")
        (kb / "findings" / f"look-{number}.yaml").write_text(own, encoding="utf-8")
        text = cause.replace("id: weak-supply", f"id: part-{number}").replace("supply is weak", f"part number {number} fails")
        text = text.replace("weight: 5", f"weight: {weight:g}").replace("shows:\n", f"shows:\n  look-{number}: {{still: 1}}\n")
        (kb / "causes" / f"part-{number}.yaml").write_text(text, encoding="utf-8")


def _unused_tool(kb: Path) -> None:
    _into_base(kb, "tools:\n", "  hammer: {title: A hammer, effort: {minutes: 5}}\n")


def _unused_part(kb: Path) -> None:
    _into_base(kb, "parts: {", "wind: Wind, ")


def _unused_entry(kb: Path) -> None:
    choices = "{yes: {text: it is, told_by: [{finding: fan, is: turns}]}, no: {text: none}}"
    _into_base(kb, "proof:", "", f"inventory: {{wind: {{question: A sail, choices: {choices}}}}}\n")


def _unused_area(kb: Path) -> None:
    _into_base(kb, "proof:", "", "areas: {current: Current, wind: Wind}\n")
    for path in (kb / "causes").iterdir():
        path.write_text(f"{path.read_text(encoding='utf-8')}area: current\n", encoding="utf-8")


def _weight_sum(kb: Path) -> None:
    _more_causes(kb, [50.0] * 10)


def _weight_share(kb: Path) -> None:
    _more_causes(kb, [300.0, 0.4, *[85.0] * 8])


MADE: dict[str, tuple[Callable[[Path], None], list[str]]] = {
    "unused-tool": (
        _unused_tool,
        ["base.yaml:13: unused-tool: no finding or action needs the tool hammer → name it under needs:, or delete it"],
    ),
    "unused-part": (_unused_part, ["base.yaml:11: unused-part: nothing belongs to the part wind → delete it"]),
    "unused-entry": (
        _unused_entry,
        [
            "base.yaml:14: unused-entry: no when tests the fact wind, and no choice of it puts a tool at hand"
            " → test it with {fact: ...}, or delete it"
        ],
    ),
    "unused-area": (
        _unused_area,
        ["base.yaml:14: unused-area: no cause has the area wind → delete it, or give it to a cause"],
    ),
    "weight-sum": (
        _weight_sum,
        [
            "base.yaml:1: weight-sum: the weights of all causes add up to 515; they are meant to be of a thousand machines"
            " → multiply each by 1.94"
        ],
    ),
    "weight-share": (
        _weight_share,
        [
            "causes/part-0.yaml:4: weight-share: weight 300 is 30.14% of all causes together → split the cause",
            "causes/part-1.yaml:4: weight-share: weight 0.4 is 0.04% of all causes together"
            " → join it to a cause that is mended alike, or raise it",
        ],
    ),
}


@pytest.mark.parametrize("code", MADE)
def test_made(tidy_kb: Path, code: str) -> None:
    """The same for what is spoiled by a function."""
    make, expected = MADE[code]
    make(tidy_kb)
    assert lines(tidy_kb) == expected


def test_a_rare_cause_that_its_story_lifts_is_not_too_rare(tidy_kb: Path) -> None:
    """A weight of 0.4 in a thousand, but thrice as likely after a move: worth asking about then."""
    _weight_share(tidy_kb)
    path = tidy_kb / "causes" / "part-1.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("shows:\n", "shows:\n  moved: {yes: 3}\n"), encoding="utf-8")
    assert lines(tidy_kb) == MADE["weight-share"][1][:1]


def test_errors_that_keep_it_from_loading_end_the_check(tidy_kb: Path) -> None:
    """The closer look needs a knowledge base that loads, and the result says that it was not done."""
    (tidy_kb / "hazards" / "wind.yaml").write_text("id: wind\n", encoding="utf-8")
    found = lint(tidy_kb)
    assert not found.complete
    assert {problem.code for problem in found.problems} == {"schema-required"}
    assert found.fails(strict=False)


def test_no_folder(tmp_path: Path) -> None:
    """A folder that is not there is a problem, not an exception."""
    found = lint(tmp_path / "nowhere")
    assert [problem.code for problem in found.problems] == ["no-folder"]
    assert found.counts == {Severity.ERROR: 1, Severity.WARNING: 0}


def test_all_at_once(tidy_kb: Path) -> None:
    """Spoiled in all these ways together, of each file the last one: nothing breaks, and problems come in order."""
    for spoiled in FOLDERS:
        shutil.copytree(spoiled, tidy_kb, dirs_exist_ok=True, ignore=shutil.ignore_patterns("expected.txt", "exceptions.yaml"))
    shutil.copy(BAD / "never-offered" / "causes" / "weak-supply.yaml", tidy_kb / "causes")  # it names the fix of that one
    for make, _ in MADE.values():
        make(tidy_kb)
    found = lint(tidy_kb)
    assert found.complete
    assert list(found.problems) == sorted(set(found.problems))
    assert len({problem.code for problem in found.problems}) > 15
