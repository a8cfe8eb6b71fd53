"""Read every file of a knowledge base, check each against its schema, and build the items of those that passed.

Each item keeps the place that it came from, so that a check can point to file and line. A broken file is known by name only.
"""

from __future__ import annotations

import os
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from nopost.knowledge import model as m
from nopost.knowledge.build import BASE, KINDS, RENAMED, RENAMED_FILE, ItemKind
from nopost.knowledge.problem import Problem, ProblemCode
from nopost.knowledge.yaml_reader import UNREADABLE, Document, read_yaml

MAX_FILES = 20_000
_ID = re.compile("[a-z0-9]+(-[a-z0-9]+)*")

NO_FOLDER = ProblemCode(
    "no-folder",
    "There is no such folder",
    "There is nothing to read.",
    "Name the folder that holds base.yaml.",
)
FILE_NAME = ProblemCode(
    "file-name",
    "A file that does not end in .yaml",
    "A file that is passed over in silence is the worst kind of lost work.",
    "Rename it to end in .yaml, or move it out of the folder.",
)
UNKNOWN_FOLDER = ProblemCode(
    "unknown-folder",
    "A folder for which there is no kind of item",
    "What lies in it would never be read.",
    "Use one of the folders in the hint.",
)
TOO_MANY_FILES = ProblemCode(
    "too-many-files",
    "A folder with more files than anyone writes",
    "Reading would never end.",
    "Move away what does not belong.",
)
ID_FILE_NAME = ProblemCode(
    "id-file-name",
    "The id is not the file's name",
    "Items are found by their file's name.",
    "Write the name as id, or call the file by its id.",
)
ID_TWICE = ProblemCode(
    "id-twice",
    "Two files of one name within a folder and the folders in it",
    "Only one of them could be read, and nobody could say which.",
    "Call one of them otherwise, or delete it.",
)
FOLDER_CODES = (NO_FOLDER, FILE_NAME, UNKNOWN_FOLDER, TOO_MANY_FILES, ID_FILE_NAME, ID_TWICE)
"""What can be wrong with the files of a folder, besides their text."""


@dataclass(slots=True)
class SourceFiles:
    """The files of a knowledge base as data: folder -> id -> document.

    `broken`: folder -> the names of what could not be read or broke its schema. `unread`: folders that could not be
    looked into.
    """

    root: Path
    base: Document | None = None
    renamed: Document | None = None
    items: dict[str, dict[str, Document]] = field(default_factory=lambda: {folder: {} for folder in KINDS})
    broken: defaultdict[str, frozenset[str]] = field(default_factory=lambda: defaultdict(frozenset))
    unread: set[str] = field(default_factory=set)
    problems: list[Problem] = field(default_factory=list)


def read_source(folder: Path) -> SourceFiles:
    """Read every file and check each against its schema."""
    source = SourceFiles(folder)
    if not os.path.isdir(folder):
        source.problems.append(NO_FOLDER.at(str(folder), 0, "there is no such folder", "name a folder with base.yaml"))
        return source
    source.base = _read(source, folder / "base.yaml", BASE)
    if os.path.lexists(folder / RENAMED_FILE):
        source.renamed = _read(source, folder / RENAMED_FILE, RENAMED)
    for path in _entries(source, folder):
        if os.path.isdir(path) and path.name not in KINDS:
            _stray(source, path)
    for kind in KINDS.values():
        read: dict[str, Path] = {}
        for path in _not_too_many(source, folder / kind.folder, item_files(folder / kind.folder, source)):
            if path.name in read:
                message = f"{_shown(source, read[path.name])} has this name already"
                source.problems.append(ID_TWICE.at(_shown(source, path), 0, message, "call it otherwise, or delete it"))
                continue
            read[path.name] = path
            document = _read(source, path, kind)
            if document is not None:
                source.items[kind.folder][path.stem] = document
    return source


def item_files(folder: Path, source: SourceFiles | None = None) -> list[Path]:
    """The files of one kind's folder and of the folders in it, in which they may be put in order; hidden names are passed over.

    What cannot be looked into goes to the problems of the `source`, if there is one.
    """
    source = source or SourceFiles(folder)
    files = []
    for path in _entries(source, folder):
        within = os.path.isdir(path) and path.suffix != ".yaml"
        files += _entries(source, path, folder.name) if within else [path]
    return files


def _stray(source: SourceFiles, folder: Path) -> None:
    """A folder of no kind; what lies in it may be of any kind."""
    hint = f"one of: {', '.join(KINDS)}"
    source.problems.append(UNKNOWN_FOLDER.at(_shown(source, folder), 0, "no kind of item lives here", hint))
    names = _ids(_name(path) for path in _entries(source, folder))
    for kind in KINDS:
        source.broken[kind] |= names


def _entries(source: SourceFiles, folder: Path, kind: str = "") -> list[Path]:
    """What lies in a folder, which need not be there; hidden names are passed over. `kind`: the folder that it belongs to."""
    if os.path.lexists(folder):
        try:
            return sorted(path for path in folder.iterdir() if not path.name.startswith("."))
        except OSError as error:
            source.unread.add(kind or folder.name)
            message = f"cannot be read: {error.strerror}"
            source.problems.append(UNREADABLE.at(_shown(source, folder), 0, message, "it must be a folder you may read"))
    return []


def _not_too_many(source: SourceFiles, folder: Path, paths: list[Path]) -> list[Path]:
    """The paths, or none of them when they are more than anyone writes."""
    if len(paths) <= MAX_FILES:
        return paths
    source.unread.add(folder.name)
    message, hint = f"holds more than {MAX_FILES} files", "move away what does not belong here"
    source.problems.append(TOO_MANY_FILES.at(_shown(source, folder), 0, message, hint))
    return []


def _shown(source: SourceFiles, path: Path) -> str:
    """A file's name for the screen, whatever bytes it is made of."""
    return os.fsencode(os.path.relpath(path, source.root)).decode("utf-8", "backslashreplace")


def _ids(names: Iterable[str]) -> frozenset[str]:
    """Those that something can be called."""
    return frozenset(name for name in names if _ID.fullmatch(name))


def _name(path: Path) -> str:
    """The item's name that a file's name begins with."""
    return path.name.partition(".")[0]


def _read(source: SourceFiles, path: Path, kind: ItemKind) -> Document | None:
    """Read one file; None when it has problems, which go to the source."""
    document, problems = _examined(path, _shown(source, path), source.root, kind)
    if not problems:
        return document
    source.problems += problems
    source.broken[kind.folder] |= _ids((_name(path), _own_id(document)))
    return None


def _examined(path: Path, shown: str, root: Path, kind: ItemKind) -> tuple[Document, list[Problem]]:
    if path.suffix != ".yaml":
        return Document(shown), [FILE_NAME.at(shown, 0, "not a .yaml file", "rename it to end in .yaml, or move it away")]
    document, problems = read_yaml(path, shown, root)
    if not problems:
        from nopost.knowledge.schema import schema_problems

        problems = schema_problems(document, kind.schema)
    own_id = _own_id(document)
    if kind.folder and own_id != path.stem and _ID.fullmatch(own_id):
        message = f"id is {own_id!r} but the file is called {path.stem!r}"
        hint = "write the file's name as id, or call the file by its id"
        problems.append(ID_FILE_NAME.at(shown, document.line(("id",)), message, hint))
    return document, problems


def _own_id(document: Document) -> str:
    """The id that stands in the file; empty when there is none."""
    own_id = document.data.get("id") if isinstance(document.data, dict) else None
    return own_id if isinstance(own_id, str) else ""


class PartialKnowledge:
    """The items whose files passed their schemas. Of a broken file no more than its name is known."""

    def __init__(self, source: SourceFiles) -> None:
        self._source = source
        self.base: m.Base | None = BASE.build(source.base.data) if source.base else None
        self.renamed: m.Renamed = RENAMED.build(source.renamed.data if source.renamed else {})
        built = {folder: self._built(folder) for folder in KINDS}
        self.findings: Mapping[str, m.Finding] = built["findings"]
        self.causes: Mapping[str, m.Cause] = built["causes"]
        self.actions: Mapping[str, m.Action] = built["actions"]
        self.rules: Mapping[str, m.Rule] = built["rules"]
        self.hazards: Mapping[str, m.Hazard] = built["hazards"]
        self.codes: Mapping[str, m.CodeTable] = built["codes"]
        self.boards: Mapping[str, m.Board] = built["boards"]
        self.cpus: Mapping[str, m.Cpu] = built["cpus"]
        self.cases: Mapping[str, m.Case] = built["cases"]
        self.limits: Mapping[str, m.Limits] = built["limits"]

    def _built(self, folder: str) -> dict[str, Any]:
        return {name: KINDS[folder].build(d.data) for name, d in self._source.items[folder].items()}

    def names(self, folder: str) -> frozenset[str] | None:
        """The names of a folder's items, broken ones too; None when the folder could not be looked into."""
        if folder in self._source.unread:
            return None
        return self._source.broken[folder].union(self._source.items[folder])

    @property
    def renamed_document(self) -> Document:
        """The document of the renamed ids; an empty one when there is none."""
        return self._source.renamed or Document(RENAMED_FILE)

    def document(self, folder: str, item: str = "") -> Document:
        """The document of an item; of the base when the folder is empty."""
        document = self._source.items[folder][item] if folder else self._source.base
        assert document is not None  # a check speaks only of what it sees
        return document
