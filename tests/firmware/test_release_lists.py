"""Lists of releases of differing shape, found on disk, each with what it has to become. The lists are invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from nopost.errors import KnowledgeError, RecordError
from nopost.firmware.release_list.board_record import check_record, firmware_part, guess_comments, merged, record_text
from nopost.firmware.release_list.cell_values import ReleaseList
from nopost.firmware.release_list.list_reader import MOST_BYTES, read_list
from nopost.firmware.release_list.prose import Families, known_families_of
from nopost.knowledge.model import Knowledge
from nopost.knowledge.yaml_reader import parse_yaml

FOLDER = Path(__file__).parent / "release_lists"
LISTS = sorted(path for path in FOLDER.iterdir() if path.suffix != ".yaml")


@pytest.fixture(scope="module")
def families(knowledge: Knowledge) -> Families:
    """Those of the shipped records."""
    return known_families_of(knowledge.cpus.values(), knowledge.boards.values())


def guessed(listed: ReleaseList) -> list[str]:
    """Guesses as "release field value"."""
    first = [f"first {guess.value}" for guess in listed.guessed_first]
    return first + [f"{entry.version} {guess.field} {guess.value}" for entry in listed.releases for guess in entry.guesses]


def test_there_are_many() -> None:
    """Each has its expected record."""
    assert len(LISTS) >= 15
    assert all(path.with_suffix(".yaml").is_file() for path in LISTS)


@pytest.mark.parametrize("path", LISTS, ids=lambda path: path.stem)
def test_list(path: Path, families: Families) -> None:
    """How it was read, its firmware part, its guesses and remarks."""
    expected: dict[str, Any] = yaml.safe_load(path.with_suffix(".yaml").read_text(encoding="utf-8"))
    listed = read_list(path.read_bytes(), path.name, families)
    found = {
        "form": listed.form,
        "encoding": listed.encoding,
        "firmware": firmware_part(listed),
        "guesses": guessed(listed),
        "remarks": [f"{remark.line}: {remark.text}" for remark in listed.remarks],
    }
    assert found == expected


@pytest.mark.parametrize("path", LISTS, ids=lambda path: path.stem)
def test_written_record(path: Path, families: Families) -> None:
    """The text is read back as the same data, is good, and each guess stands in it with its words."""
    listed = read_list(path.read_bytes(), path.name, families)
    data = {"firmware": firmware_part(listed)}
    text = record_text(data, guess_comments(listed, data["firmware"]))
    document, problems = parse_yaml(text, "text")
    assert (document.data, problems) == (data, [])
    assert check_record(text, "text", whole=False) == []
    for guess in (*listed.guessed_first, *(guess for entry in listed.releases for guess in entry.guesses)):
        assert f"# guess: {guess.shown()}\n" in text


@pytest.mark.parametrize("path", LISTS, ids=lambda path: path.stem)
def test_lines(path: Path, families: Families) -> None:
    """Each release names the line that it begins in."""
    listed = read_list(path.read_bytes(), path.name, families)
    text = path.read_bytes().decode({"UTF-16": "utf-16", "Latin-1": "cp1252"}.get(listed.encoding, "utf-8-sig"))
    rows = text.splitlines()
    for entry in listed.releases:
        assert entry.version in " ".join(rows[entry.line - 1 : entry.line + 1])


def test_base_record_stands(knowledge: Knowledge, families: Families) -> None:
    """What a record says of a release is kept; a release that the list lacks keeps its place."""
    raw = b"version,date,notes\n0.102,2030-02-11,Cannot be rolled back\n"
    raw += b"0.120,2032-01-01,Adds support for Kelp 7 CPUs; requires 0.110 or later\n"
    base = {
        "id": "mine",
        "firmware": {
            "first_families": ["kelp-1"],
            "releases": [
                {"version": "0.102", "date": "2030-02-11", "one_way": False},
                {"version": "0.110", "date": "2031-06-03"},
            ],
        },
    }
    listed = read_list(raw, "list", families, base)
    data = merged(base, firmware_part(listed), "other")
    assert guessed(listed) == ["0.120 adds kelp-7", "0.120 accepts_from 0.110"]
    assert (data["id"], data["firmware"]["first_families"]) == ("other", ["kelp-1"])
    assert [release["version"] for release in data["firmware"]["releases"]] == ["0.102", "0.110", "0.120"]
    assert data["firmware"]["releases"][0]["one_way"] is False


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        ("version,date\n1.2,soon\n1.1,2030-01-02\n1.0,2029-01-02", "no-date", 2),
        ("version,date\n1.1,2030-01-02\n,2030-01-01", "no-version", 3),
        ("Version 1.2\n2031-05-17\n\nVersion 1.1\nMay 2031", "no-date", 4),
    ],
)
def test_problems_have_lines(text: str, code: str, line: int) -> None:
    """What cannot be used is named with its line in the list."""
    with pytest.raises(KnowledgeError) as found:
        read_list(text.encode(), "list.csv")
    assert [(problem.path, problem.line, problem.code) for problem in found.value.problems] == [("list.csv", line, code)]


@pytest.mark.parametrize("raw", [b"", b"\n\n", b"nothing of the kind here", b"\0" * 100, b"a" * (MOST_BYTES + 1)])
def test_no_list(raw: bytes) -> None:
    """One clear error."""
    with pytest.raises(RecordError, match=r"list\.csv"):
        read_list(raw, "list.csv")


def test_version_twice_is_told_with_its_line() -> None:
    """The same version on two days contradicts itself; the checks say so."""
    listed = read_list(b"version,date\n1.1,2030-01-02\n1.1,2030-05-02", "list")
    text = record_text({"firmware": firmware_part(listed)}, {})
    (problem,) = check_record(text, "record", whole=False)
    assert problem.code == "release-twice"
    assert "2030-05-02" in text.split("\n")[problem.line - 1]


def test_a_date_too_many() -> None:
    """Dates that lead, and one at the end without a release: then each may stand at the wrong one, so it is refused."""
    text = "2032-01-02\nVersion 1.9\nFirst.\n\n2032-05-02\nVersion 1.12\nSecond.\n\n2032-07-02\n"
    with pytest.raises(KnowledgeError) as caught:
        read_list(text.encode(), "list.txt")
    assert [(each.line, each.code) for each in caught.value.problems] == [(9, "no-version")]
