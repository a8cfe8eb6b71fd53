"""New items of a knowledge base: an id proposed from what a person wrote, a file in the order of its schema, never over another
file, and examined within the whole.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Collection, Mapping
from pathlib import Path
from typing import Any

from nopost.errors import OutputError
from nopost.files import data_dir, write_atomically
from nopost.knowledge.build import KINDS, MAX_BYTES, ItemKind
from nopost.knowledge.edit.canonical_yaml import yaml_text
from nopost.knowledge.edit.change_yaml import EditableYaml
from nopost.knowledge.edit.new_base import modeline
from nopost.knowledge.problem import Problem
from nopost.knowledge.schema import schema_problems
from nopost.knowledge.source_files import item_files
from nopost.knowledge.yaml_reader import parse_yaml

KIND_BY_NAME: Mapping[str, ItemKind] = {kind.name: kind for kind in KINDS.values()}


def item_path(root: Path, kind: str, name: str) -> Path:
    """Where an item of this kind and name lives: where it is, or where a new one goes."""
    folder = root / KIND_BY_NAME[kind].folder
    return next((path for path in item_files(folder) if path.name == f"{name}.yaml"), folder / f"{name}.yaml")


def names_taken(root: Path, kind: str) -> frozenset[str]:
    """The names of all files of this kind."""
    return frozenset(path.stem for path in item_files(root / KIND_BY_NAME[kind].folder))


def item_file(root: Path, kind: str, data: Mapping[str, Any]) -> tuple[str, list[Problem]]:
    """The text of the file, keys in the schema's order, with a line that tells editors its schema; and what breaks the schema."""
    schema = json.loads((data_dir("schemas") / KIND_BY_NAME[kind].schema).read_text(encoding="utf-8"))
    ordered = {key: data[key] for key in schema["properties"] if key in data}
    place = item_path(root, kind, data["id"]).relative_to(root)
    text = modeline(root, KIND_BY_NAME[kind].schema, depth=len(place.parts) - 1) + yaml_text(ordered)
    document, problems = parse_yaml(text, place.as_posix())
    return text, problems or schema_problems(document, KIND_BY_NAME[kind].schema)


def write_item(root: Path, kind: str, name: str, text: str, *, over: bool = False) -> Path:
    """Write a new item's file. Raises OutputError when it is there already (unless `over`) or the disk refuses."""
    path = item_path(root, kind, name)
    if path.exists() and not over:
        raise OutputError(f"{path}: is there already; choose another id")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(path, text.encode())
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {error.strerror}") from None
    return path


def change_file(path: Path, change: Callable[[EditableYaml], None]) -> None:
    """Change a file and write it back; its line ends and a byte order mark stay.

    Raises OutputError when it cannot be read, changed or written, KnowledgeError when its problems have to be mended first; then
    it stands as it was.
    """
    file = read_editable(path)
    try:
        change(file)
    except KeyError as error:
        raise OutputError(f"{path}: cannot be changed at {error}: do it in an editor") from None
    write_edited(path, file)


def read_editable(path: Path) -> EditableYaml:
    """A file, to be changed. Raises OutputError when it cannot be read or changed, KnowledgeError for its problems."""
    try:
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
        return EditableYaml(raw.decode("utf-8"), str(path))
    except OSError as error:
        raise OutputError(f"{path}: cannot be changed: {error.strerror}") from None
    except UnicodeDecodeError as error:
        raise OutputError(f"{path}: cannot be changed at {error}: do it in an editor") from None


def write_edited(path: Path, file: EditableYaml) -> None:
    """Write the changed file over itself. Raises OutputError; then it stands as it was."""
    text = file.text()
    try:
        write_atomically(path, text.encode())
    except OSError as error:
        raise OutputError(f"{path}: cannot be changed: {error.strerror}") from None


LONGEST_ID = 60
_ID = re.compile("[a-z0-9]+(-[a-z0-9]+)*")
_STOP_WORDS = frozenset("a an the is are was of or and to in on at its it with for does do what".split())  # noqa: SIM905


def proposed_id(title: str, taken: Collection[str] = (), words: int = 4) -> str:
    """An id from a title: its first words that mean something, with a number when it is taken; "" when there are no letters."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().casefold().replace("'", "")
    found = re.findall("[a-z0-9]+", plain)
    telling = [word for word in found if word not in _STOP_WORDS] or found
    name = "-".join(telling[:words])[: LONGEST_ID - 4].strip("-")
    if name not in taken:
        return name
    return next(numbered for number in range(2, len(taken) + 3) if (numbered := f"{name}-{number}") not in taken)


def id_fault(name: str) -> str:
    """What is wrong with an id, in words; "" when it is good."""
    if not _ID.fullmatch(name):
        return "an id is made of small letters, digits and single hyphens, as in dry-tank"
    return f"at most {LONGEST_ID} characters" if len(name) > LONGEST_ID else ""
