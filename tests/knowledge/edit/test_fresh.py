"""New knowledge bases: what they hold, and that the schemas copied into them do the loader's work in an editor."""

from __future__ import annotations

import json
from fnmatch import fnmatch
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from referencing import Registry, Resource

from nopost.errors import OutputError
from nopost.files import data_dir
from nopost.knowledge.build import KINDS
from nopost.knowledge.edit.item_files import change_file, item_file, write_item
from nopost.knowledge.edit.new_base import NewBase, copied_files, empty_files, schema_of, schema_patterns, write_base
from nopost.knowledge.yaml_reader import read_yaml
from nopost.linting.runner import problems_after_writing, read_base

HAZARD = {"id": "hot", "title": "Hot parts", "caution": "Let it cool down.", "source": "judgement"}


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the shipped base."""
    folder = tmp_path_factory.mktemp("new") / "own"
    write_base(folder, copied_files("My workshop: what we know"))
    return folder


@cache
def retrieve(uri: str) -> Resource[Any]:
    """A schema by its address as a file, as an editor looks it up."""
    return Resource.from_contents(json.loads(Path(uri.removeprefix("file://")).read_text(encoding="utf-8")))


@pytest.mark.slow
def test_copy(copy: Path) -> None:
    """It loads without a problem; the items are the shipped ones below the line for editors; only the name is new."""
    context, problems = read_base(copy)
    assert problems == []
    assert context.base
    assert context.base.name == "My workshop: what we know"
    for path in sorted(data_dir("kb").rglob("*.yaml")):
        inside = path.relative_to(data_dir("kb")).as_posix()
        first, rest = (copy / inside).read_text(encoding="utf-8").split("\n", 1)
        assert first.startswith("# yaml-language-server: $schema=")
        assert ((copy / inside).parent / first.partition("=")[2]).resolve().is_file()
        assert inside == "base.yaml" or rest == path.read_text(encoding="utf-8")


@pytest.mark.slow
def test_settings_map_each_file_to_its_schema(copy: Path) -> None:
    """Each file by exactly one pattern, and each item passes its copied schema with relative $ref resolved by file address."""
    settings = json.loads((copy / ".vscode" / "settings.json").read_text(encoding="utf-8"))["yaml.schemas"]
    registry: Registry[Any] = Registry(retrieve=retrieve)  # type: ignore[call-arg]
    validators: dict[str, Draft202012Validator] = {}
    checked = 0
    for path in sorted(copy.rglob("*.yaml")):
        inside = path.relative_to(copy).as_posix()
        found = [schema for schema, pattern in settings.items() if fnmatch(inside, pattern.replace("**/", ""))]
        assert [Path(schema).name for schema in found] == [schema_of(inside)]
        address = (copy / found[0]).resolve().as_uri()
        validators.setdefault(address, Draft202012Validator({"$ref": address}, registry=registry))
        assert list(validators[address].iter_errors(read_yaml(path)[0].data)) == []
        checked += 1
    assert checked > 200
    assert set(schema_patterns()) <= {path.name for path in (copy / ".schemas").iterdir()}


@pytest.mark.slow
def test_schemas_underline(copy: Path) -> None:
    """A wrong item fails through the same way, so the references are really followed."""
    registry: Registry[Any] = Registry(retrieve=retrieve)  # type: ignore[call-arg]
    address = (copy / ".schemas" / "hazard.schema.json").resolve().as_uri()
    errors = list(Draft202012Validator({"$ref": address}, registry=registry).iter_errors({**HAZARD, "id": "Not An Id"}))
    assert [list(error.absolute_path) for error in errors] == [["id"]]


def test_empty(tmp_path: Path) -> None:
    """Nothing is missing but a first cause, and every entry is explained."""
    folder = tmp_path / "empty"
    write_base(folder, empty_files(NewBase(name="no: 'yes' # really", parts={"pump": "Pump", "on": "Off: no"})))
    context, problems = read_base(folder)
    assert [problem.code for problem in problems] == ["no-causes"]
    assert context.base
    assert (context.base.name, context.base.parts) == ("no: 'yes' # really", {"pump": "Pump", "on": "Off: no"})
    assert {path.name for path in folder.iterdir() if not path.name.startswith(".")} == {"base.yaml", *KINDS}
    lines = (folder / "base.yaml").read_text(encoding="utf-8").splitlines()
    entries = [number for number, line in enumerate(lines) if line and line[0] not in " #"]
    explained = [number for number in entries if lines[number - 1].startswith("#")]
    assert len(explained) == len(entries)


@pytest.mark.parametrize("what", ["file", "full", "link"])
def test_never_over_something(what: str, tmp_path: Path) -> None:
    """A file, a folder that holds something, a link: refused, and left as it was."""
    place = tmp_path / "there"
    if what == "file":
        place.write_text("mine")
    elif what == "full":
        place.mkdir()
        (place / ".hidden").write_text("mine")
    else:
        place.symlink_to(tmp_path / "elsewhere")
    with pytest.raises(OutputError, match="there"):
        write_base(place, empty_files(NewBase()))
    assert not (place / "base.yaml").exists()


def test_items(tmp_path: Path) -> None:
    """Written in the schema's order with the line for editors; never over a file; judged within the whole."""
    folder = tmp_path / "b"
    write_base(folder, empty_files(NewBase()))
    text, problems = item_file(folder, "hazard", dict(reversed(HAZARD.items())))
    assert problems == []
    assert text.splitlines()[:3] == [
        "# yaml-language-server: $schema=../.schemas/hazard.schema.json",
        "id: hot",
        "title: Hot parts",
    ]
    path = write_item(folder, "hazard", "hot", text)
    with pytest.raises(OutputError, match="is there already"):
        write_item(folder, "hazard", "hot", "gone")
    assert path.read_text(encoding="utf-8") == text
    found = problems_after_writing(folder, path)
    assert (found.errors, [p.code for p in found.to_come], found.elsewhere) == ((), ["no-causes"], 0)
    _, wrong = item_file(folder, "hazard", {**HAZARD, "caution": "x"})
    assert [problem.line for problem in wrong] == [4]
    path.write_text(text.replace("id: hot", "id: cold"), encoding="utf-8")
    assert [problem.code for problem in problems_after_writing(folder, path).errors] == ["id-file-name"]
    assert problems_after_writing(folder).elsewhere == 1


def test_no_line_without_schemas(tmp_path: Path) -> None:
    """A base without copied schemas gets no line that leads nowhere."""
    assert item_file(tmp_path, "hazard", HAZARD)[0].startswith("id: hot\n")


def test_change_file(tmp_path: Path) -> None:
    """A file that cannot be changed stays as it was, with one line of reason."""
    path = tmp_path / "x.yaml"
    path.write_bytes(b"a: \xff\n")
    with pytest.raises(OutputError, match="cannot be changed"):
        change_file(path, lambda file: file.set_value(("a",), 2))
    assert path.read_bytes() == b"a: \xff\n"
    with pytest.raises(OutputError, match="cannot be changed"):
        change_file(tmp_path / "none.yaml", lambda file: file.set_value(("a",), 2))
    path.write_bytes(b"\xef\xbb\xbfa: 1\r\n")
    change_file(path, lambda file: file.set_value(("a",), 2))
    assert path.read_bytes() == b"\xef\xbb\xbfa: 2\r\n"
