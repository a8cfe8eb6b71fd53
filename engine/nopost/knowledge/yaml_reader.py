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
from nopost.knowledge.build import MAX_BYTES
from nopost.knowledge.problem import Problem, ProblemCode
from nopost.text import find_control

KeyPath = tuple[str | int, ...]

MAX_DEPTH = 16
MAX_NODES = 50_000

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][+-]?[0-9]+)?")
_CONSTANTS: dict[str, Any] = {"true": True, "false": False, "null": None}
_KEPT = "\t\n\r"
"""Controls that a text file is made of; every other is a problem, for it could hide from a reader what a file says."""


NO_FILE = ProblemCode(
    "no-file",
    "A file that must be there is missing",
    "base.yaml holds what is true of the whole knowledge base.",
    "Add it.",
)
NOT_A_FILE = ProblemCode(
    "not-a-file",
    "Something that is no plain file",
    "A folder, pipe or device cannot be an item.",
    "Put a text file here, or move it away.",
)
UNREADABLE = ProblemCode(
    "unreadable",
    "A file or folder that cannot be read",
    "The system refuses it.",
    "Check its permissions.",
)
LINK_OUTSIDE = ProblemCode(
    "link-outside",
    "A link that leaves the knowledge base",
    "A knowledge base from elsewhere could read any file of yours that way.",
    "Put the file itself here.",
)
TOO_LARGE = ProblemCode(
    "too-large",
    "A file over 512 KiB",
    "No item written by people is that long.",
    "One item per file; split it.",
)
TOO_MANY_VALUES = ProblemCode(
    "too-many-values",
    "A file with more than 50000 values",
    "No item needs that many.",
    "Split the file.",
)
TOO_DEEP = ProblemCode(
    "too-deep",
    "Values nested too deep",
    "No item needs it, and it is hard to read.",
    "Flatten it.",
)
BINARY = ProblemCode(
    "binary",
    "Not a text file",
    "It holds zero bytes.",
    "Save it as plain UTF-8 text.",
)
ENCODING = ProblemCode(
    "encoding",
    "Not UTF-8",
    "Other encodings turn into wrong letters on other machines.",
    "Save the file as UTF-8.",
)
CONTROL_CHARACTER = ProblemCode(
    "control-character",
    "A character that controls the terminal",
    "It could hide text from a reader.",
    "Delete it.",
)
EMPTY = ProblemCode(
    "empty",
    "An empty file",
    "Nothing is in it.",
    "Fill it in, or delete it.",
)
YAML_SYNTAX = ProblemCode(
    "yaml-syntax",
    "Not well-formed YAML",
    "The reader cannot tell what belongs where.",
    "Check the indentation and the colons; quote text that holds a colon or a #.",
)
ALIAS = ProblemCode(
    "alias",
    "An anchor or alias",
    "What a line means must stand in that line.",
    "Write the value out, or quote it.",
)
TAG = ProblemCode(
    "tag",
    "A YAML tag",
    "Only plain text, numbers, lists and keys are used.",
    "Delete the tag.",
)
BAD_KEY = ProblemCode(
    "bad-key",
    "A key that is not a word",
    "Keys are names.",
    "Write key: value.",
)
DUPLICATE_KEY = ProblemCode(
    "duplicate-key",
    "A key that stands twice",
    "One of the two would be lost in silence.",
    "Keep one of them.",
)
TWO_DOCUMENTS = ProblemCode(
    "two-documents",
    "A second document in one file",
    "One file is one item.",
    "Delete the --- or split the file.",
)
READER_CODES = (
    NO_FILE,
    NOT_A_FILE,
    UNREADABLE,
    LINK_OUTSIDE,
    TOO_LARGE,
    TOO_MANY_VALUES,
    TOO_DEEP,
    BINARY,
    ENCODING,
    CONTROL_CHARACTER,
    EMPTY,
    YAML_SYNTAX,
    ALIAS,
    TAG,
    BAD_KEY,
    DUPLICATE_KEY,
    TWO_DOCUMENTS,
)
"""What can be wrong with the text of one file."""


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

    def __init__(self, line: int, code: ProblemCode, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.line, self.code, self.message, self.hint = line, code, message, hint

    def in_file(self, name: str) -> Problem:
        """The problem with the name of the file."""
        return self.code.at(name, self.line, self.message, self.hint)


def read_yaml(path: Path, shown_as: str | None = None, root: Path | None = None) -> tuple[Document, list[Problem]]:
    """Read one file. Problems are returned, never raised; with problems the data is None.

    `root`: the folder that links must not leave.
    """
    name = shown_as or str(path)
    try:
        return parse_yaml(_read_text(path, root), name)
    except _FileProblem as found:
        return Document(name), [found.in_file(name)]


def parse_yaml(text: str, name: str) -> tuple[Document, list[Problem]]:
    """Read YAML text; `name` is used in the problems."""
    document = Document(name)
    try:
        forbidden = find_control(text, _KEPT)
        if forbidden:
            raise _control_character(text.count("\n", 0, forbidden.start()) + 1, forbidden[0])
        _DataBuilder(document).build(text)
    except _FileProblem as found:
        return Document(name), [found.in_file(name)]
    except yaml.YAMLError as error:
        return Document(name), [_syntax_problem(name, error)]
    return document, []


def _control_character(line: int, character: str) -> _FileProblem:
    return _FileProblem(line, CONTROL_CHARACTER, f"control character U+{ord(character):04X}", "delete it")


def _read_text(path: Path, root: Path | None) -> str:
    try:
        if root is not None and leaves(path, root):
            raise _FileProblem(0, LINK_OUTSIDE, "the file is a link that leaves the folder", "put the file itself here")
        if not path.exists():
            raise _FileProblem(0, NO_FILE, "there is no such file", "add it, or correct the name")
        if not path.is_file():
            raise _FileProblem(0, NOT_A_FILE, "this is not a plain file", "put a text file here")
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except OSError as error:
        raise _FileProblem(0, UNREADABLE, f"cannot be read: {error.strerror}", "check the file's permissions") from None
    if len(raw) > MAX_BYTES:
        raise _FileProblem(0, TOO_LARGE, f"larger than {MAX_BYTES // 1024} KiB", "one item per file; split it")
    if b"\0" in raw:
        raise _FileProblem(0, BINARY, "this is not a text file", "save it as plain UTF-8 text")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise _FileProblem(line, ENCODING, "not UTF-8 text", "save the file as UTF-8") from None


def _syntax_problem(name: str, error: yaml.YAMLError) -> Problem:
    mark, begin = getattr(error, "problem_mark", None), getattr(error, "context_mark", None)
    what = getattr(error, "problem", None) or str(error).splitlines()[0]
    line = mark.line + 1 if mark else 0
    if begin and begin.line + 1 < line:
        what = f"{what}, in what begins in line {begin.line + 1}"
    hint = "check the indentation, the colons, and put text with a colon or a # in quotes"
    return YAML_SYNTAX.at(name, line, str(what), hint)


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
            raise _FileProblem(1, EMPTY, "the file is empty", "fill it in or delete it")

    def _event(self, event: yaml.Event) -> None:
        line = event.start_mark.line + 1 if event.start_mark else 0
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            raise _FileProblem(line, ALIAS, "anchors (&) and aliases (*) are not used here", "write the value out or quote it")
        if isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                raise _FileProblem(line, TWO_DOCUMENTS, "a second document begins here", "one item per file; delete the ---")
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
            raise _FileProblem(line, TOO_MANY_VALUES, f"more than {MAX_NODES} values", "split the file")
        if event.tag is not None and event.tag != "!":
            raise _FileProblem(line, TAG, f"tags such as {event.tag} are not used here", "delete the tag")

    def _open(self, event: Any, line: int) -> None:
        self._count(event, line)
        if len(self.stack) >= MAX_DEPTH:
            raise _FileProblem(line, TOO_DEEP, f"nested deeper than {MAX_DEPTH}", "flatten it")
        if self._wants_key():
            raise _FileProblem(line, BAD_KEY, "a key must be a word", "write key: value")
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
            raise _FileProblem(line, DUPLICATE_KEY, f"{key!r} stands twice, first in line {first}", "keep one of them")
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
