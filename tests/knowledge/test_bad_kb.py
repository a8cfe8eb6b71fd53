"""Broken knowledge bases, one folder for each problem code: the exact lines that are reported.

A folder in tests/bad_kb/ holds the files that spoil the tiny good one (`_good`), and the lines in expected.txt.
Those in `_together` hold problems of many codes: all are reported at once, and none that only seems to be one.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Iterator
from itertools import combinations
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nopost.errors import KnowledgeError
from nopost.knowledge.build import BASE, KINDS, MAX_BYTES
from nopost.knowledge.effects import Effect
from nopost.knowledge.source_files import MAX_FILES
from nopost.knowledge.yaml_reader import MAX_NODES
from nopost.linting.runner import examine
from nopost.loading import load_knowledge
from schema_walk import SCHEMAS, subschemas

BAD = Path(__file__).resolve().parents[1] / "bad_kb"
GOOD = BAD / "_good"
FOLDERS = sorted(path for path in BAD.iterdir() if path.is_dir() and not path.name.startswith("_"))
TOGETHER = sorted(BAD.glob("_together/*"))


def spoil(kb: Path, spoiled: Path) -> list[str]:
    """Lay the spoiled files over the good ones; the lines that are expected."""
    shutil.copytree(spoiled, kb, dirs_exist_ok=True, ignore=shutil.ignore_patterns("expected.txt"))
    return (spoiled / "expected.txt").read_text(encoding="utf-8").splitlines()


def reported(kb: Path) -> list[str]:
    """The problems as they are shown."""
    return [str(problem) for problem in examine(kb)[1]]


def test_the_good_one_is_good(good_kb: Path) -> None:
    """Or the others would prove nothing."""
    assert reported(good_kb) == []
    knowledge = load_knowledge(good_kb)
    assert all(getattr(knowledge, folder) for folder in KINDS)
    assert [name for name, action in knowledge.actions.items() if action.resets] == ["swap-supply"]


@pytest.mark.parametrize("spoiled", FOLDERS, ids=lambda path: path.name)
def test_spoiled(good_kb: Path, spoiled: Path) -> None:
    """Exactly the expected lines, all of the folder's own code, and loading raises them all."""
    expected = spoil(good_kb, spoiled)
    problems = examine(good_kb)[1]
    assert [str(problem) for problem in problems] == expected
    assert {problem.code for problem in problems} == {spoiled.name}
    with pytest.raises(KnowledgeError) as raised:
        load_knowledge(good_kb)
    assert [str(problem) for problem in raised.value.problems] == expected


# What cannot lie in a repository is made here.


def _remove_folder(kb: Path) -> None:
    shutil.rmtree(kb)


def _remove_base(kb: Path) -> None:
    (kb / "base.yaml").unlink()


def _remove_items(kb: Path) -> None:
    for folder in KINDS:
        shutil.rmtree(kb / folder)


def _link_outside(kb: Path) -> None:
    shutil.move(kb / "cpus" / "reed-2.yaml", kb.parent / "reed-2.yaml")
    os.symlink(kb.parent / "reed-2.yaml", kb / "cpus" / "reed-2.yaml")


def _unreadable(kb: Path) -> None:
    (kb / "cases" / "plug.yaml").unlink()
    (kb / "cases").rmdir()
    (kb / "cases").write_text("a file instead of a folder\n")


def _too_large(kb: Path) -> None:
    with (kb / "hazards" / "shock.yaml").open("ab") as stream:
        stream.write(b"#" * MAX_BYTES)


def _too_many_files(kb: Path) -> None:
    for number in range(MAX_FILES):
        (kb / "cases" / f"c{number}.yaml").touch()


def _too_many_values(kb: Path) -> None:
    (kb / "codes" / "long.yaml").write_text("codes:\n" + "- 1\n" * MAX_NODES)


MADE: dict[str, tuple[Callable[[Path], None], str]] = {
    "no-folder": (_remove_folder, "{kb}: no-folder: there is no such folder → name a folder with base.yaml"),
    "no-file": (_remove_base, "base.yaml: no-file: there is no such file → add it, or correct the name"),
    "no-causes": (_remove_items, "base.yaml:1: no-causes: there is not one cause → add files to causes/"),
    "link-outside": (
        _link_outside,
        "cpus/reed-2.yaml: link-outside: the file is a link that leaves the folder → put the file itself here",
    ),
    "unreadable": (_unreadable, "cases: unreadable: cannot be read: Not a directory → it must be a folder you may read"),
    "too-large": (_too_large, "hazards/shock.yaml: too-large: larger than 512 KiB → one item per file; split it"),
    "too-many-files": (
        _too_many_files,
        f"cases: too-many-files: holds more than {MAX_FILES} files → move away what does not belong here",
    ),
    "too-many-values": (
        _too_many_values,
        f"codes/long.yaml:{MAX_NODES - 1}: too-many-values: more than {MAX_NODES} values → split the file",
    ),
}


@pytest.mark.parametrize(
    "code", [pytest.param(code, marks=[pytest.mark.slow] if code.startswith("too-many") else []) for code in MADE]
)
def test_made(good_kb: Path, code: str) -> None:
    """The same for what is spoiled by a function."""
    make, expected = MADE[code]
    make(good_kb)
    assert reported(good_kb) == [expected.format(kb=good_kb)]


def test_a_base_alone_with_no_items_misses_only_causes(good_kb: Path) -> None:
    """A folder that is not there is an empty one."""
    _remove_items(good_kb)
    assert [problem.code for problem in examine(good_kb)[1]] == ["no-causes"]


def test_a_name_of_any_bytes_can_be_shown(good_kb: Path) -> None:
    """A file name that is no text is shown with escapes, and does not stop the program."""
    name = os.fsencode(good_kb) + b"/hazards/\xff\xfe.yaml"
    shutil.copy(os.fsencode(good_kb / "hazards" / "shock.yaml"), name)
    with pytest.raises(KnowledgeError) as raised:
        load_knowledge(good_kb)
    (problem,) = raised.value.problems
    assert str(problem).encode().startswith(rb"hazards/\xff\xfe.yaml:1: id-file-name: ")


@pytest.mark.parametrize("spoiled", TOGETHER, ids=lambda path: path.name)
def test_spoiled_in_many_ways(good_kb: Path, spoiled: Path) -> None:
    """Exactly the expected lines, in the order of files and lines."""
    expected = spoil(good_kb, spoiled)
    problems = examine(good_kb)[1]
    assert [str(problem) for problem in problems] == expected
    assert problems == sorted(problems)
    assert len({problem.code for problem in problems}) > 1


@pytest.mark.slow
@settings(max_examples=60)
@given(st.sampled_from(list(combinations((*FOLDERS, *TOGETHER), 2))))
def test_two_that_are_spoiled_make_no_third_problem(pair: tuple[Path, Path]) -> None:
    """Where they share no file, each problem that is reported is one of either."""
    assume(not set.intersection(*(set(files_in(spoiled)) for spoiled in pair)))
    with TemporaryDirectory() as folder:
        kb = Path(shutil.copytree(GOOD, Path(folder) / "kb"))
        either = {unnumbered(line) for spoiled in pair for line in spoil(kb, spoiled)}
        assert {unnumbered(line) for line in reported(kb)} <= either


def files_in(spoiled: Path) -> Iterator[str]:
    """The files that a folder lays over the good ones."""
    for path in spoiled.rglob("*"):
        if path.is_file() and path.name != "expected.txt":
            yield str(path.relative_to(spoiled))


def unnumbered(line: str) -> str:
    """A reported line without the number in it; the other folder may have moved it."""
    return re.sub(r"^([^:]*):\d+", r"\1", line)


def test_of_a_folder_that_cannot_be_read_no_name_is_missed(good_kb: Path) -> None:
    """The shock is a hazard that may be there, the hammer is no tool."""
    shutil.rmtree(good_kb / "hazards")
    (good_kb / "hazards").write_text("a file instead of a folder\n")
    path = good_kb / "actions" / "measure.yaml"
    path.write_text(path.read_text().replace("[meter]", "[hammer]"))
    assert reported(good_kb) == [
        "actions/measure.yaml:7: unknown-name: there is no tool 'hammer' → did you mean meter?",
        "hazards: unreadable: cannot be read: Not a directory → it must be a folder you may read",
    ]


def rules_in_schemas() -> Iterator[str]:
    """Each keyword by which a file of the knowledge base can break its schema."""
    says_nothing = {"$schema", "$id", "$ref", "$defs", "title", "description", "properties", "items", "propertyNames"}
    for name in ("common.schema.json", *(kind.schema for kind in (BASE, *KINDS.values()))):
        for _, schema in subschemas(SCHEMAS[name]):
            for keyword, value in schema.items():
                if keyword not in says_nothing and not (keyword == "additionalProperties" and isinstance(value, dict)):
                    yield keyword


def test_every_effect_is_covered(good_kb: Path) -> None:
    """A rule has each effect with a name that leads nowhere, and each is reported."""
    spoil(good_kb, BAD / "unknown-name")
    source, problems = examine(good_kb)
    then = source.items["rules"]["all-effects"].data["then"]
    assert [effect for entry in then for effect in entry] == list(Effect)
    assert len([problem for problem in problems if problem.path == "rules/all-effects.yaml"]) == len(Effect)
