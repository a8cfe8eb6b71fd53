"""The canonical form of a knowledge file, and the tree by which a file is changed without losing its comments.

ruamel.yaml reads the file with its comments, quotes, folds and order, and writes it again. A file is canonical when that gives
the same bytes; a change to it then shows in a diff as just this change. The rules:

* Mappings are indented by 2, list dashes by 2 more than the key of the list.
* No line is longer than 130 columns, if it can be broken: what stands between braces or brackets gets a line for each entry, a
  long text is folded (`>-`) at 105 columns.
* Two spaces at least stand before a comment behind a value.
* All else stays as its author wrote it: comments, blank lines, quotes, folds, the spelling of numbers.

The tree holds every scalar as the text that stands in the file. What a text means, `yaml_reader` alone says: it reads a file
before it is changed, refuses what it always refuses, and reads the result again.

New YAML is written as a person would have: blocks, small tables in one line, quotes only where they help.
"""

from __future__ import annotations

import io
import json
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from itertools import accumulate
from typing import Any

import yaml
from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.emitter import Emitter
from ruamel.yaml.error import CommentMark, YAMLError
from ruamel.yaml.nodes import ScalarNode
from ruamel.yaml.resolver import VersionedResolver
from ruamel.yaml.scalarstring import DoubleQuotedScalarString, FoldedScalarString, PlainScalarString
from ruamel.yaml.tag import Tag
from ruamel.yaml.tokens import CommentToken

from nopost.knowledge.build import MAX_BYTES
from nopost.knowledge.yaml_reader import parse_yaml, plain_value

WIDTH = 130
"""Columns of a line, as far as it can be broken."""
PROSE_WIDTH = 105
"""Columns to which a long text is folded: longer lines are hard to read."""
SHORTEST_FOLD = 40
"""However deep a text stands, a line of it may be as long as this."""
_TEXT = Tag(suffix="tag:yaml.org,2002:str")
_BREAKS = frozenset("\t\n\r\x07\x85\u2028\u2029\ufeff")


class NotEditableError(ValueError):
    """Text that the tree cannot hold as it is. It says why."""


class _TextResolver(VersionedResolver):
    """Takes every plain scalar for text."""

    def resolve(self, kind: Any, value: Any, implicit: Any) -> Any:
        return _TEXT if kind is ScalarNode else super().resolve(kind, value, implicit)


class _Emitter(Emitter):
    """Double quotes where a plain text cannot stand, and two spaces at least before a comment behind a value."""

    def choose_scalar_style(self) -> Any:
        style = super().choose_scalar_style()
        return '"' if style == "'" and not self.event.style else style

    def write_comment(self, comment: Any, pre: bool = False) -> None:
        if not pre and self.column and comment.value.startswith("#"):
            mark = CommentMark(max(comment.start_mark.column, self.column + 2))
            comment = CommentToken(comment.value, start_mark=mark, end_mark=None)
        super().write_comment(comment, pre)


def _round_trip() -> YAML:
    yaml = YAML()
    yaml.Resolver, yaml.Emitter = _TextResolver, _Emitter
    yaml.preserve_quotes = True
    yaml.width = MAX_BYTES  # it would break lines behind a key; `write_tree` breaks them
    yaml.indent(mapping=2, sequence=4, offset=2)
    return yaml


def read_tree(text: str) -> Any:
    """The tree of a text: a CommentedMap, a CommentedSeq or a scalar. Raises NotEditableError."""
    try:
        return _round_trip().load(text)
    except (YAMLError, ValueError) as error:
        raise NotEditableError(" ".join(str(error).split())) from None


def write_tree(tree: Any) -> str:
    """The tree as text in canonical form."""
    text = _dumped(tree)
    while any(len(line) > WIDTH for line in text.split("\n")):
        tree = read_tree(text)
        if not _break_lines(tree, text.split("\n")):
            break
        text = _dumped(tree)
    return text


def _dumped(tree: Any) -> str:
    stream = io.StringIO()
    _round_trip().dump(tree, stream)
    return stream.getvalue()


def _break_lines(tree: Any, lines: list[str]) -> bool:
    """Give the values that stand in too long lines more lines, the outermost first; whether there was anything to do."""
    broken = False
    for holder, key, line, column in list(_values(tree)):
        value, comment = holder[key], comment_behind(holder, key)
        if len(lines[line].partition(" #")[0]) <= WIDTH:
            continue
        if _is_inline(value) and value:
            value.fa.set_block_style()
            if comment:
                comment.start_mark = CommentMark(0)  # moves with its key to the shorter line
            broken = True
        elif isinstance(value, str) and not isinstance(value, FoldedScalarString) and not comment and can_be_folded(value):
            holder[key] = folded(value, column)
            broken = True
    return broken


def _values(tree: Any) -> Iterator[tuple[Any, Any, int, int]]:
    """Holder and key of each value that stands in a block; its line, and the column of its key or dash."""
    if isinstance(tree, CommentedMap | CommentedSeq) and not _is_inline(tree):
        keyed = isinstance(tree, CommentedMap)
        for key in list(tree) if keyed else range(len(tree)):
            line = (tree.lc.value(key) if keyed else tree.lc.item(key))[0]
            yield tree, key, line, tree.lc.key(key)[1] if keyed else tree.lc.item(key)[1] - 2
            yield from _values(tree[key])


def _is_inline(value: Any) -> bool:
    """Whether it stands between braces or brackets."""
    return isinstance(value, CommentedMap | CommentedSeq) and bool(value.fa.flow_style())


def comment_slots(holder: Any, key: Any) -> tuple[list[Any], int]:
    """The list, and the place in it, where ruamel.yaml keeps the comments behind and below a value, up to the next one."""
    return holder.ca.items.setdefault(key, [None, None, None, None]), 2 if isinstance(holder, CommentedMap) else 0


def comment_behind(holder: Any, key: Any) -> Any:
    """The CommentToken that begins in the line of a value; None when there is none."""
    slots, place = comment_slots(holder, key)
    return slots[place] if slots[place] and slots[place].value.startswith("#") else None


def can_be_folded(text: str) -> bool:
    """Whether a folded text is read back as it is: single spaces between words, none at the ends, nothing that breaks lines."""
    return len(text.split(" ")) > 1 and all(text.split(" ")) and not _BREAKS & set(text)


def folded(text: str, column: int) -> Any:
    """A text that `can_be_folded` as a FoldedScalarString, for a key or dash in this column."""
    lines = textwrap.wrap(text, max(PROSE_WIDTH - column - 2, SHORTEST_FOLD), break_long_words=False, break_on_hyphens=False)
    scalar: Any = FoldedScalarString(text)
    scalar.fold_pos = [total - 1 for total in accumulate(len(line) + 1 for line in lines[:-1])]
    return scalar


def comment_marks(text: str, data: Any) -> int:
    """How many # stand in comments: those of the text without those of its data."""
    return text.count("#") - json.dumps(data, ensure_ascii=False).count("#")


LONGEST_ROW = 90
"""Characters of a mapping with texts that stands in one line."""
LONGEST_WORDS = 30
"""Characters of a text in a list within one line."""


def yaml_text(data: Mapping[str, Any]) -> str:
    """The data as YAML in canonical form, keys in their order; the one YAML reader reads the same data back.

    Raises ValueError for what no file can hold: other types than JSON's, control characters, too much or too deep.
    """
    root = CommentedMap()
    for key, value in data.items():
        root[new_scalar(key)] = new_node(value, top=True)
    try:
        text = write_tree(root)
    except NotEditableError as error:
        raise ValueError(f"no file can hold this: {error}") from None
    document, problems = parse_yaml(text, "the text")
    if problems or document.data != data:
        why = problems[0].message if problems else "it would be read as something else"
        raise ValueError(f"no file can hold this: {why}")
    return text


def new_node(value: Any, *, top: bool = False, item: bool = False) -> Any:
    """A value of JSON's types as a node of ruamel.yaml's tree. Raises ValueError for other types.

    `top`: the value of a key of the whole file, where only numbers stand in one line; `item`: an item of a list.
    """
    if isinstance(value, Mapping):
        mapping = CommentedMap()
        for key, each in value.items():
            mapping[new_scalar(key)] = new_node(each)
        return _styled(mapping, _is_row(value, top, item))
    if _is_list(value):
        return _styled(CommentedSeq([new_node(each, item=True) for each in value]), item or all(map(_is_short, value)))
    return new_scalar(value)


def new_scalar(value: Any) -> Any:
    """A number as short as it can be, or a text, in quotes where a person or another program would take it for something else."""
    if value is None or isinstance(value, bool):
        return PlainScalarString({None: "null", True: "true", False: "false"}[value])
    if isinstance(value, int | float):
        short = f"{value:g}"
        text = short if float(short) == value else repr(value)
        if plain_value(text) != value:
            raise ValueError(f"no file can hold this: {value}")
        return PlainScalarString(text)
    if not isinstance(value, str):
        raise ValueError(f"no file can hold this: {type(value).__name__}")
    return DoubleQuotedScalarString(value) if _misleads(value) else PlainScalarString(value)


def _misleads(text: str) -> bool:
    """Whether it looks like a number, a date, a list or (in YAML 1.1) a truth value, or like the beginning of a key."""
    meant: Any = yaml.resolver.Resolver().resolve  # untyped
    digits_alone = text[:1].isdigit() and not any(c.isalpha() for c in text)
    as_text = meant(yaml.ScalarNode, text, (True, False)) == "tag:yaml.org,2002:str"
    like_a_key = text[:1] in ("?", ":", "-") or ":?" in text  # between braces PyYAML's parser refuses them
    return digits_alone or like_a_key or not as_text or not isinstance(plain_value(text), str)


def _styled(node: Any, inline: bool) -> Any:
    (node.fa.set_flow_style if inline else node.fa.set_block_style)()
    return node


def _is_row(value: Mapping[str, Any], top: bool, item: bool) -> bool:
    """Whether a mapping stands in one line: numbers, or a few small things."""
    if all(map(_is_number, value.values())):
        return True
    small = all(map(_is_plain if item else _is_small, value.values())) and not (item and len(value) == 1)
    return small and not top and sum(len(f"{key}: {each}, ") for key, each in value.items()) <= LONGEST_ROW


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _is_plain(value: Any) -> bool:
    return not isinstance(value, Mapping) and not _is_list(value)


def _is_small(value: Any) -> bool:
    return _is_plain(value) or (isinstance(value, Mapping) and bool(value) and all(map(_is_number, value.values())))


def _is_short(value: Any) -> bool:
    return _is_number(value) or (isinstance(value, str) and len(value) <= LONGEST_WORDS and not value.endswith("."))


def _is_list(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str)
