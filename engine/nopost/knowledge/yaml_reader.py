"""The one YAML reader: JSON scalars only, no aliases, no tags, no duplicate keys, file and line kept.

It builds the data from the parser's events with an explicit stack, so that neither nesting nor aliases can cost
more than the file's length. Files are judged hostile until shown otherwise: see the limits below.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from nopost.files import leaves
from nopost.knowledge.problem import Problem
from nopost.text import find_control

KeyPath = tuple[str | int, ...]

MAX_BYTES = 512 * 1024
MAX_DEPTH = 16
MAX_NODES = 50_000

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][+-]?[0-9]+)?")
_CONSTANTS: dict[str, Any] = {"true": True, "false": False, "null": None}
_KEPT = "\t\n\r"
"""Controls that a text file is made of; every other is a problem, for it could hide from a reader what a file says."""


@dataclass(slots=True)
class Document:
    """One file's data with the line of each value, keyed by its path from the root."""

    path: str
    data: Any = None
    lines: dict[KeyPath, int] = field(default_factory=dict)

    def line(self, where: KeyPath) -> int:
        """Line of the value at `where`, or of the nearest value around it."""
        while where and where not in self.lines:
            where = where[:-1]
        return self.lines.get(where, 1)


class _FileProblem(Exception):
    """Ends the reading of one file."""

    def __init__(self, line: int, code: str, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.line, self.code, self.message, self.hint = line, code, message, hint


def read_yaml(path: Path, shown_as: str | None = None, root: Path | None = None) -> tuple[Document, list[Problem]]:
    """Read one file. Problems are returned, never raised; with problems the data is None.

    `root`: the folder that links must not leave.
    """
    name = shown_as or str(path)
    try:
        return parse_yaml(_read_text(path, root), name)
    except _FileProblem as found:
        return Document(name), [Problem(name, found.line, found.code, found.message, found.hint)]


def parse_yaml(text: str, name: str) -> tuple[Document, list[Problem]]:
    """Read YAML text; `name` is used in the problems."""
    document = Document(name)
    try:
        forbidden = find_control(text, _KEPT)
        if forbidden:
            raise _control_character(text.count("\n", 0, forbidden.start()) + 1, forbidden[0])
        _DataBuilder(document).build(text)
    except _FileProblem as found:
        return Document(name), [Problem(name, found.line, found.code, found.message, found.hint)]
    except yaml.YAMLError as error:
        return Document(name), [_syntax_problem(name, error)]
    return document, []


def _control_character(line: int, character: str) -> _FileProblem:
    return _FileProblem(line, "control-character", f"control character U+{ord(character):04X}", "delete it")


def _read_text(path: Path, root: Path | None) -> str:
    try:
        if root is not None and leaves(path, root):
            raise _FileProblem(0, "link-outside", "the file is a link that leaves the folder", "put the file itself here")
        if not path.exists():
            raise _FileProblem(0, "no-file", "there is no such file", "add it, or correct the name")
        if not path.is_file():
            raise _FileProblem(0, "not-a-file", "this is not a plain file", "put a text file here")
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except OSError as error:
        raise _FileProblem(0, "unreadable", f"cannot be read: {error.strerror}", "check the file's permissions") from None
    if len(raw) > MAX_BYTES:
        raise _FileProblem(0, "too-large", f"larger than {MAX_BYTES // 1024} KiB", "one item per file; split it")
    if b"\0" in raw:
        raise _FileProblem(0, "binary", "this is not a text file", "save it as plain UTF-8 text")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise _FileProblem(line, "encoding", "not UTF-8 text", "save the file as UTF-8") from None


def _syntax_problem(name: str, error: yaml.YAMLError) -> Problem:
    mark, begin = getattr(error, "problem_mark", None), getattr(error, "context_mark", None)
    what = getattr(error, "problem", None) or str(error).splitlines()[0]
    line = mark.line + 1 if mark else 0
    if begin and begin.line + 1 < line:
        what = f"{what}, in what begins in line {begin.line + 1}"
    hint = "check the indentation, the colons, and put text with a colon or a # in quotes"
    return Problem(name, line, "yaml-syntax", str(what), hint)


class _DataBuilder:
    """Turns parser events into data with an explicit stack."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.stack: list[tuple[Any, KeyPath]] = []
        self.keys: list[str | None] = []
        self.nodes = 0
        self.documents = 0

    def build(self, text: str) -> None:
        for event in yaml.parse(text, Loader=_LOADER):
            self._event(event)
        if self.documents == 0:
            raise _FileProblem(1, "empty", "the file is empty", "fill it in or delete it")

    def _event(self, event: yaml.Event) -> None:
        line = event.start_mark.line + 1 if event.start_mark else 0
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            raise _FileProblem(line, "alias", "anchors (&) and aliases (*) are not used here", "write the value out or quote it")
        if isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                raise _FileProblem(line, "two-documents", "a second document begins here", "one item per file; delete the ---")
        elif isinstance(event, yaml.ScalarEvent):
            self._scalar(event, line)
        elif isinstance(event, yaml.MappingStartEvent | yaml.SequenceStartEvent):
            self._open(event, line)
        elif isinstance(event, yaml.MappingEndEvent | yaml.SequenceEndEvent):
            self.stack.pop()
            self.keys.pop()

    def _count(self, event: Any, line: int) -> None:
        self.nodes += 1
        if self.nodes > MAX_NODES:
            raise _FileProblem(line, "too-many-values", f"more than {MAX_NODES} values", "split the file")
        if event.tag is not None and event.tag != "!":
            raise _FileProblem(line, "tag", f"tags such as {event.tag} are not used here", "delete the tag")

    def _open(self, event: Any, line: int) -> None:
        self._count(event, line)
        if len(self.stack) >= MAX_DEPTH:
            raise _FileProblem(line, "too-deep", f"nested deeper than {MAX_DEPTH}", "flatten it")
        if self._wants_key():
            raise _FileProblem(line, "bad-key", "a key must be a word", "write key: value")
        fresh: Any = {} if isinstance(event, yaml.MappingStartEvent) else []
        where = self._place(fresh, line)
        self.stack.append((fresh, where))
        self.keys.append(None)

    def _scalar(self, event: yaml.ScalarEvent, line: int) -> None:
        self._count(event, line)
        escaped = find_control(event.value, _KEPT)
        if escaped:
            raise _control_character(line, escaped[0])
        if self._wants_key():
            self._key(event.value, line)
            return
        plain = event.style is None or event.style == ""
        self._place(plain_value(event.value) if plain else event.value, line)

    def _wants_key(self) -> bool:
        return bool(self.stack) and isinstance(self.stack[-1][0], dict) and self.keys[-1] is None

    def _key(self, key: str, line: int) -> None:
        holder, where = self.stack[-1]
        if key in holder:
            first = self.document.lines[(*where, key)]
            raise _FileProblem(line, "duplicate-key", f"{key!r} stands twice, first in line {first}", "keep one of them")
        self.keys[-1] = key
        self.document.lines[(*where, key)] = line

    def _place(self, value: Any, line: int) -> KeyPath:
        if not self.stack:
            self.document.data = value
            self.document.lines[()] = line
            return ()
        holder, where = self.stack[-1]
        if isinstance(holder, dict):
            key = self.keys[-1]
            assert key is not None  # _wants_key was false
            holder[key] = value
            self.keys[-1] = None
            return (*where, key)
        holder.append(value)
        here = (*where, len(holder) - 1)
        self.document.lines[here] = line
        return here


def plain_value(text: str) -> Any:
    """A plain scalar as JSON sees it; everything else is text ('no', '00', '1:3:1' and dates stay text)."""
    if text in _CONSTANTS:
        return _CONSTANTS[text]
    if _NUMBER.fullmatch(text):
        return _real(text) if any(c in text for c in ".eE") else _integer(text)
    return text


def _integer(text: str) -> int | str:
    return int(text) if len(text) < 40 else text  # longer ones are never meant as numbers


def _real(text: str) -> float | str:
    value = float(text)
    return value if math.isfinite(value) else text  # JSON has no infinity
