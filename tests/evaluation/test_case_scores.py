"""Coded cases scored: labels, what is left out, and what is passed over."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import small
from nopost.diagnosis.diagnose import Diagnostician
from nopost.errors import KnowledgeError
from nopost.evaluation.case_scores import (
    ScoredCase,
    read_labelled_cases,
    read_labels,
    score_case,
    summarise_scores,
)
from nopost.knowledge.build import renamed
from nopost.knowledge.model import Combine, Knowledge

CASE = """\
id: one
title: A dark lamp
answers: {lamp: dark}
source: judgement
"""


def base() -> Knowledge:
    """A loose plug makes a dark lamp, a dead part does not."""
    lamp = small.finding("lamp", {"lit": 0.5, "dark": 0.5}, Combine.EITHER, misreport=0.0)
    causes = [
        small.cause("loose", 50.0, {"lamp": {"dark": 0.9, "lit": 0.1}}, {"press": 0.9}),
        small.cause("dead", 50.0, {"lamp": {"dark": 0.1, "lit": 0.9}}, {"swap": 0.9}),
    ]
    return small.knowledge([lamp], causes, [small.fix("press", 1.0), small.fix("swap", 1.0)])


def write(folder: Path, **texts: str) -> Path:
    """A folder with these files."""
    for name, text in texts.items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return folder


def test_where_labels_come_from(tmp_path: Path) -> None:
    """From the case's `cause`, one or several, from its `expect`, and before both from the labels."""
    where = write(
        tmp_path,
        a=CASE.replace("one", "a") + "cause: loose\n",
        b=CASE.replace("one", "b") + "cause: [loose, dead]\n",
        c=CASE.replace("one", "c") + "expect: {cause: dead}\n",
        d=CASE.replace("one", "d"),
    )
    found = read_labelled_cases(where, base())
    assert {case.id: case.causes for case in found.cases} == {"a": ("loose",), "b": ("loose", "dead"), "c": ("dead",)}
    assert [str(problem) for problem in found.left_out] == [
        f"{where}/d.yaml:1: no-label: nothing says what was wrong → write cause: into the case, or name it in --labels"
    ]
    labelled = read_labelled_cases(where, base(), {"a": ("dead",), "d": ("loose",)})
    assert {case.id: case.causes[0] for case in labelled.cases} == {"a": "dead", "b": "loose", "c": "dead", "d": "loose"}


def test_labels_file(tmp_path: Path) -> None:
    """Rows with id and cause; other keys, and causes that no base has, do not matter."""
    path = tmp_path / "labels.yaml"
    path.write_text(
        "- {id: a, cause: loose, year: 2031, codes: null}\n- {id: b, cause: ['other: rust', dead]}\n", encoding="utf-8"
    )
    assert read_labels(path) == {"a": ("loose",), "b": ("other: rust", "dead")}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("- {id: a, cause: loose}\n- {id: b}\n", "labels.yaml:2: no-label: no row with id and cause"),
        ("- {id: a, cause: 3}\n", "labels.yaml:1: no-label: no row with id and cause"),
        ("- {id: a, cause: []}\n", "labels.yaml:1: no-label: no row with id and cause"),
        ("a: loose\n", "labels.yaml:1: no-label: no row with id and cause"),
        ("- [\n", "labels.yaml:2: yaml-syntax: did not find expected node content"),
    ],
)
def test_labels_that_are_none(tmp_path: Path, text: str, told: str) -> None:
    """Told with their line."""
    path = tmp_path / "labels.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(KnowledgeError) as raised:
        read_labels(path)
    assert [str(problem).partition(" →")[0] for problem in raised.value.problems] == [f"{tmp_path}/{told}"]


def test_what_is_not_known_is_told_and_passed_over(tmp_path: Path) -> None:
    """Findings, answers, fixes, causes and records; and what is no case."""
    text = (
        CASE.replace("{lamp: dark}", "{lamp: dark, horn: loud}") + "cause: [gremlins, loose]\nrecords: {board: no-such-board}\n"
    )
    text += "tried: [{action: pray, outcome: same}, {action: swap, outcome: same}]\n"
    found = read_labelled_cases(write(tmp_path, one=text, two="id: two\n"), base())
    (case,) = found.cases
    assert (case.answers, case.tried, case.causes, case.records) == (
        {"lamp": "dark"},
        (("swap", "same"),),
        ("gremlins", "loose"),
        {},
    )
    assert [problem.path for problem in found.left_out] == [str(tmp_path / "two.yaml")] * len(found.left_out)
    told = [problem.message for problem in found.untaken]
    assert len(told) == 4
    for name in ("horn", "pray", "gremlins", "no-such-board"):
        assert any(name in message for message in told), name


def test_old_ids(tmp_path: Path) -> None:
    """A label that was split counts when any of its parts stands first; an old answer is read."""
    old = {"causes": {"bad": ["loose", "dead"]}, "findings": {"light": ["lamp"]}}
    knowledge = replace(base(), renamed=renamed(old))
    where = write(tmp_path, one=CASE.replace("lamp", "light"))
    (case,) = read_labelled_cases(where, knowledge, {"one": ("bad",)}).cases
    assert (case.causes, case.answers) == (("loose", "dead"), {"lamp": "dark"})


def test_score_of_a_case(tmp_path: Path) -> None:
    """The chance of the right cause and the Brier score follow from the posterior."""
    knowledge = base()
    (case,) = read_labelled_cases(write(tmp_path, one=CASE + "cause: dead\n"), knowledge).cases
    diagnostician = Diagnostician(knowledge)
    found = score_case(diagnostician, case)
    assert (found.cause_place, found.area_place, found.leading[0][0]) == (2, 1, "loose")
    chances = dict(found.leading)
    assert found.chance == chances["dead"]
    unlisted = found.brier - (1 - chances["dead"]) ** 2 - chances["loose"] ** 2
    assert 0 < unlisted < 0.01


def test_summary() -> None:
    """By hand: two cases, one right at 0.8, one wrong at 0.6."""
    right = ScoredCase("a", ("x",), 1, 1, (("x", 0.8), ("y", 0.2)), 0.8, 0.08)
    wrong = ScoredCase("b", ("y",), 2, 2, (("x", 0.6), ("y", 0.4)), 0.25, 0.72)
    found = summarise_scores([right, wrong])
    assert (found.cases, found.cause_first, found.cause_among_three, found.area_first) == (2, 0.5, 1.0, 0.5)
    assert found.brier == pytest.approx(0.4)
    assert found.brier_first == pytest.approx((0.2**2 + 0.6**2) / 2)
    assert found.calibration.mean == pytest.approx((0.2 + 0.6) / 2)
    assert [(row.count, row.right) for row in found.reliability] == [(1, 0.0), (1, 1.0)]
    assert found.log_score == pytest.approx((-0.321928 - 2) / 2, abs=1e-6)
