"""Answers given in one go: mappings, JSON, case files, and what is said of bad ones."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from nopost.diagnosis.replay import GivenAnswers, read_answers, split_pairs
from nopost.errors import KnowledgeError, NopostError
from nopost.knowledge.model import Knowledge

CASES = Path(__file__).resolve().parents[2] / "kb" / "cases"


def write(folder: Path, text: str, name: str = "given.yaml") -> str:
    """A file with this text; its path."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def problems(name: str, knowledge: Knowledge) -> list[str]:
    """What is said of a bad file, without its path."""
    with pytest.raises(KnowledgeError) as caught:
        read_answers(name, knowledge)
    told = [str(problem) for problem in caught.value.problems]
    assert all(text.startswith(name) for text in told), told
    return [text.removeprefix(name) for text in told]


def test_mapping(knowledge: Knowledge, tmp_path: Path) -> None:
    """Lines of finding: answer, in the order of the file."""
    given = read_answers(write(tmp_path, "screen: no-signal\noccasion: new-build\nbeeps: unknown\n"), knowledge)
    assert given.answers == [("screen", "no-signal"), ("occasion", "new-build"), ("beeps", "unknown")]
    assert (given.tried, given.records) == ([], {})
    assert given


@pytest.mark.parametrize("indent", [None, 2, "\t"])
def test_json(knowledge: Knowledge, tmp_path: Path, indent: int | str | None) -> None:
    """JSON is read as well, however it is laid out."""
    data = {"answers": {"screen": "no-signal"}, "tried": [{"action": "reseat-memory", "outcome": "same"}]}
    given = read_answers(write(tmp_path, json.dumps(data, indent=indent), "given.json"), knowledge)
    assert given == GivenAnswers([("screen", "no-signal")], [("reseat-memory", "same")])


def test_case_by_file_and_by_id(knowledge: Knowledge) -> None:
    """A case file, and the shipped case of that id, give the same; other keys of the case do not disturb."""
    wrong = []
    for path in sorted(CASES.glob("*.yaml")):
        case = knowledge.cases[path.stem]
        wanted = GivenAnswers(list(case.answers.items()), list(case.tried), dict(case.records))
        if not read_answers(str(path), knowledge) == wanted == read_answers(path.stem, knowledge):
            wrong.append(path.stem)
    assert wrong == []
    assert knowledge.cases


def test_only_tried(knowledge: Knowledge, tmp_path: Path) -> None:
    """A file may name fixes alone."""
    given = read_answers(write(tmp_path, "tried:\n  - {action: reseat-memory, outcome: changed}\n"), knowledge)
    assert given == GivenAnswers(tried=[("reseat-memory", "changed")])


def test_odd_file_name(knowledge: Knowledge, tmp_path: Path) -> None:
    """The file's name need not be an id."""
    name = write(tmp_path, "answers: {screen: no-signal}\n", "My answers: id: 2 (new).yaml")
    assert read_answers(name, knowledge).answers == [("screen", "no-signal")]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("occasion: new-build\nscren: no-signal\n", [":2: ", "did you mean screen"]),
        ("occasion: new-build\nscreen: no-signl\n", [":2: ", "did you mean no-signal"]),
        ("answers:\n  occasion: new-build\n  scren: no-signal\n", [":3: ", "did you mean screen"]),
        (
            "answers:\n  screen: no-signal\ntried:\n  - {action: reseat-memry, outcome: same}\n",
            [":4: ", "did you mean reseat-memory"],
        ),
        ("answers:\n  screen: no-signal\ntried:\n  - {action: reseat-memory, outcome: sam}\n", [":4: ", "same"]),
        ("occasion: new-build\nscreen: 12\n", [":2: ", "12 is not text", 'quote it: "12"']),
        ("screen: true\n", [":1: ", 'quote it: "true"']),
        ("screen:\n", [":1: ", "not written as it must be"]),
        ("screen: [no-signal]\n", [":1: ", "screen"]),
        ("answer:\n  screen: no-signal\n", [":1: "]),
        ("answers: {}\n", [":1: "]),
        ("answers:\n  screen: no-signal\nsaid: x\n", [":3: ", "said is not known here"]),
        ("answers:\n  screen: no-signal\nid: NOT AN ID\n", [":3: ", "id: "]),
        ("- screen\n", [":1: ", "no mapping"]),
        ("no-signal\n", [":1: ", "no mapping"]),
        ("", [":1: ", "empty"]),
        ("screen: no-signal\nscreen: no-signal\n", [":2: ", "twice"]),
        ("screen: 'no-signal\n", ["yaml-syntax"]),
        ("screen: no-signal\n\x1b[2J: x\n", [":2: ", "control character"]),
    ],
)
def test_bad_file(knowledge: Knowledge, tmp_path: Path, text: str, said: list[str]) -> None:
    """Each fault is told with its line, and what to write instead."""
    told = problems(write(tmp_path, text), knowledge)
    assert len(told) == 1
    assert [part for part in said if part not in told[0]] == [], told[0]


def test_all_faults_at_once(knowledge: Knowledge, tmp_path: Path) -> None:
    """Every bad line is told, not only the first."""
    text = (
        "answers:\n  scren: no-signal\n  screen: gone\n  occasion: new-build\ntried:\n  - {action: reseat-memry, outcome: same}\n"
    )
    assert [told.split(":")[1] for told in problems(write(tmp_path, text), knowledge)] == ["2", "3", "6"]


@pytest.mark.parametrize("name", ["none.yaml", "none", "x" * 300, "."])
def test_file_that_is_none(knowledge: Knowledge, name: str) -> None:
    """No file, a folder, or a name too long for one."""
    with pytest.raises(KnowledgeError):
        read_answers(name, knowledge)


def test_pairs() -> None:
    """NAME=VALUE; only the first = divides, and spaces around do not count."""
    assert split_pairs(["a=b", " c = d=e "], "--answer") == [("a", "b"), ("c", "d=e")]
    for bad in ("a", "=b", "a=", "", " = "):
        with pytest.raises(NopostError, match=r"--answer .*NAME=VALUE"):
            split_pairs([bad], "--answer")
