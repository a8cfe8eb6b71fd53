"""Board and CPU records from the knowledge base, from files, and from a case."""

from __future__ import annotations

from pathlib import Path

import pytest

from nopost.errors import KnowledgeError, NopostError, UnknownNameError
from nopost.firmware.records import find_board, find_cpu, records_of
from nopost.knowledge.model import Knowledge

KB = Path(__file__).resolve().parents[2] / "kb"
CPU = """\
id: own-cpu
title: My own CPU
family: own-1
socket: own-socket
cores: 4
threads: 8
graphics: true
memory: [DDR4]
source: the label
"""


def write(folder: Path, text: str, name: str = "own.yaml") -> str:
    """A file with this text; its path."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_record_by_id(knowledge: Knowledge) -> None:
    """A shipped record by its id."""
    assert find_board("tb-harbour-m2", knowledge).socket == "reef-3"
    assert find_cpu("kelp-120", knowledge).family == "kelp-1"


def test_record_by_file(knowledge: Knowledge, tmp_path: Path) -> None:
    """A file of one's own, whatever its name and ending."""
    for name in ("own.yaml", "other.yml", "without-ending"):
        assert find_cpu(write(tmp_path, CPU, name), knowledge).socket == "own-socket"


@pytest.mark.parametrize("path", sorted((KB / "boards").glob("*.yaml")), ids=lambda p: p.stem)
def test_file_and_id_give_the_same(knowledge: Knowledge, path: Path) -> None:
    """The shipped file given as a file is the shipped record."""
    assert find_board(str(path), knowledge) == knowledge.boards[path.stem]


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        (CPU.replace("cores: 4", "cores: four"), 5, "cores"),
        (CPU.replace("cores: 4", "cores: 0"), 5, "cores"),
        (CPU.replace("family: own-1\n", ""), 1, "family is missing"),
        (CPU.replace("socket:", "sockett:"), 4, "did you mean socket?"),
        (CPU + "id: again\n", 10, "stands twice"),
        (CPU.replace("[DDR4]", "[DDR4"), 9, "yaml-syntax"),
        ("", 1, "empty"),
        ("just text\n", 1, "text"),
    ],
)
def test_bad_file_names_file_and_line(knowledge: Knowledge, tmp_path: Path, text: str, line: int, said: str) -> None:
    """Whatever is wrong with a file, its name, the line and the matter are told."""
    path = write(tmp_path, text)
    with pytest.raises(KnowledgeError) as caught:
        find_cpu(path, knowledge)
    told = [str(problem) for problem in caught.value.problems]
    assert any(text.startswith(f"{path}:{line}: ") and said in text for text in told), told


def test_board_file_with_several_faults(knowledge: Knowledge, tmp_path: Path) -> None:
    """All faults of a file are told at once."""
    good = (KB / "boards" / "tb-slipway-a1.yaml").read_text(encoding="utf-8")
    bad = good.replace("video_outputs: true", 'video_outputs: "yes"').replace('date: "2026-05-19"', "date: yesterday")
    with pytest.raises(KnowledgeError) as caught:
        find_board(write(tmp_path, bad), knowledge)
    assert len(caught.value.problems) == 2


def test_file_that_is_not_there(knowledge: Knowledge, tmp_path: Path) -> None:
    """A name that ends like a file is looked for as a file."""
    with pytest.raises(KnowledgeError) as caught:
        find_cpu(str(tmp_path / "none.yaml"), knowledge)
    assert [problem.code for problem in caught.value.problems] == ["no-file"]


def test_a_cpu_is_no_board(knowledge: Knowledge, tmp_path: Path) -> None:
    """A CPU's file given as a board is refused."""
    with pytest.raises(KnowledgeError):
        find_board(write(tmp_path, CPU), knowledge)


@pytest.mark.parametrize(("name", "near"), [("tb-harbour", "tb-harbour-m2"), ("tb-mooring-d8", "tb-mooring-d7")])
def test_unknown_board(knowledge: Knowledge, name: str, near: str) -> None:
    """An unknown id names the nearest ones."""
    with pytest.raises(UnknownNameError) as caught:
        find_board(name, knowledge)
    assert caught.value.nearest[0] == near


@pytest.mark.parametrize("name", ["zzz", "", ".", "/", "a" * 300, "a/" * 3000, "*", "tb-harbour-m2 "])
def test_odd_names_are_unknown(knowledge: Knowledge, name: str) -> None:
    """Names that can be no file's are refused like any other."""
    for find in (find_board, find_cpu):
        with pytest.raises(NopostError):
            find(name, knowledge)


def test_records_of_a_case(knowledge: Knowledge) -> None:
    """A case names its records by id."""
    records = records_of(
        {"board": "tb-harbour-m2", "cpu": "kelp-120", "firmware": "0.90", "slots": ["A2"], "memory_type": "DDR4"}, knowledge
    )
    assert records.board is knowledge.boards["tb-harbour-m2"]
    assert records.cpu is knowledge.cpus["kelp-120"]
    assert (records.firmware, records.slots, records.memory_type, records.image_for) == ("0.90", ("A2",), "DDR4", "")
    assert records_of({}, knowledge).board is None
