"""New items of a knowledge base: written in the order of their schema, never over a file, and examined within the whole."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nopost.authoring.editor import modeline
from nopost.authoring.yaml_text import yaml_text
from nopost.errors import OutputError
from nopost.files import write_atomically
from nopost.knowledge.context import Context
from nopost.knowledge.kinds import KINDS, Kind
from nopost.knowledge.load import examine
from nopost.knowledge.problem import Problem, Severity
from nopost.knowledge.schema import schema_problems
from nopost.knowledge.yaml_file import MAX_BYTES, parse_yaml
from nopost.paths import data_dir

TO_COME = frozenset({"no-causes", "unused-action", "closed-for-ever"})
"""Problems that another item takes away: they tell what comes next, not what is wrong."""
OF_KIND: Mapping[str, Kind] = {kind.name: kind for kind in KINDS.values()}


@dataclass(frozen=True, slots=True)
class Judged:
    """Problems of a base after a file was written: errors of that file, remarks on it, what other items are still wanted, and
    how many problems stand elsewhere."""

    errors: tuple[Problem, ...]
    remarks: tuple[Problem, ...]
    to_come: tuple[Problem, ...]
    elsewhere: int


def read_base(root: Path) -> tuple[Context, list[Problem]]:
    """What there is so far, however unfinished, and all its problems."""
    source, problems = examine(root)
    return Context(source), problems


def item_path(root: Path, kind: str, name: str) -> Path:
    """Where an item of this kind and name lives."""
    return root / OF_KIND[kind].folder / f"{name}.yaml"


def item_file(root: Path, kind: str, data: Mapping[str, Any]) -> tuple[str, list[Problem]]:
    """The text of the file, keys in the schema's order, with a line that tells editors its schema; and what breaks the schema."""
    schema = json.loads((data_dir("schemas") / OF_KIND[kind].schema).read_text(encoding="utf-8"))
    ordered = {key: data[key] for key in schema["properties"] if key in data}
    text = modeline(root, OF_KIND[kind].schema, depth=1) + yaml_text(ordered)
    document, problems = parse_yaml(text, f"{OF_KIND[kind].folder}/{data['id']}.yaml")
    return text, problems or schema_problems(document, OF_KIND[kind].schema)


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


def change_file(path: Path, change: Callable[[str], str]) -> str:
    """Change a file's text and write it back; its line ends and a byte order mark stay. The new text.

    Raises OutputError when it cannot be read, changed or written; then it stands as it was.
    """
    try:
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
        new = change(raw.decode("utf-8"))
        write_atomically(path, new.encode())
    except OSError as error:
        raise OutputError(f"{path}: cannot be changed: {error.strerror}") from None
    except (KeyError, UnicodeDecodeError) as error:
        raise OutputError(f"{path}: cannot be changed at {error}: do it in an editor") from None
    return new


def judge(root: Path, *written: Path) -> Judged:
    """The whole base is examined; what concerns the files that were just written, and the rest in number."""
    own = {path.relative_to(root).as_posix() for path in written}
    _, problems = read_base(root)
    to_come = tuple(p for p in problems if p.code in TO_COME)
    rest = [p for p in problems if p.code not in TO_COME]
    ours = [p for p in rest if p.path.replace("\\", "/") in own]
    errors = tuple(p for p in ours if p.severity is Severity.ERROR)
    return Judged(errors, tuple(p for p in ours if p.severity is not Severity.ERROR), to_come, len(rest) - len(ours))
