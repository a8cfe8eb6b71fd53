"""New YAML as a person would have written it: blocks, long texts folded, small tables in one line, quotes where they help."""

from __future__ import annotations

import io
import re
from collections.abc import Mapping, Sequence
from typing import Any

import yaml
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.scalarstring import DoubleQuotedScalarString, PlainScalarString

from nopost.knowledge.edit.canonical_yaml import PROSE_WIDTH, NotEditableError, can_be_folded, folded, write_tree
from nopost.knowledge.yaml_reader import parse_yaml, plain_value

LONG_TEXT = 85
"""Longer texts are folded."""
SHORT_WORDS = 30
"""Longer texts do not stand in a list within one line."""
_SIMPLE = re.compile("[a-z][a-z0-9]*(-[a-z0-9]+)+|[A-Z][a-z]+( [A-Za-z0-9]+)+[.]?")
"""Ids and simple sentences: so plain that nothing needs to be asked."""
_TEXT_TAG = "tag:yaml.org,2002:str"


def yaml_text(data: Mapping[str, Any]) -> str:
    """The data as YAML in canonical form, keys in their order; the one YAML reader reads the same data back.

    Raises ValueError for what no file can hold: other types than JSON's, control characters, too much or too deep.
    """
    try:
        text = write_tree(_mapping(data, 0, inline=False))
    except NotEditableError as error:
        raise ValueError(f"no file can hold this: {error}") from None
    document, problems = parse_yaml(text, "the text")
    if problems:
        raise ValueError(f"no file can hold this: {problems[0].message}")
    if document.data != data:
        raise ValueError("no file can hold this: it would be read as something else")
    return text


def new_node(value: Any, column: int = 0, *, flow: bool = False) -> Any:
    """A value of JSON's types as a node of ruamel.yaml's tree. Raises ValueError for other types.

    `column`: of the key or dash that it belongs to; `flow`: it stands between braces or brackets.
    """
    if isinstance(value, Mapping):
        return new_mapping(value, column, flow=flow)
    if _is_list(value):
        return new_list(value, column, flow=flow)
    if isinstance(value, str) and not flow and len(value) > min(LONG_TEXT, PROSE_WIDTH - column) and can_be_folded(value):
        return folded(value, column)
    return new_scalar(value, flow=flow)


def new_mapping(value: Mapping[str, Any], column: int = 0, *, flow: bool = False, item: bool = False) -> Any:
    """A mapping, in one line when its values are numbers, or few and small and it does not stand at the left margin.

    `item`: of a list.
    """
    inline = flow or not value or all(map(_is_number, value.values()))
    if not inline and column:
        small = all(map(_is_plain if item else _is_small, value.values())) and not (item and len(value) == 1)
        inline = small and sum(len(f"{key}: {each}, ") for key, each in value.items()) <= PROSE_WIDTH - column
    return _mapping(value, column + 2, inline)


def _mapping(value: Mapping[str, Any], column: int, inline: bool) -> Any:
    node = CommentedMap()
    for key, each in value.items():
        node[new_scalar(key, flow=inline)] = new_node(each, column, flow=inline)
    (node.fa.set_flow_style if inline else node.fa.set_block_style)()
    return node


def new_list(value: Sequence[Any], column: int = 0, *, flow: bool = False) -> Any:
    """A list, in one line when it holds numbers or short words."""
    inline = flow or all(map(_is_short, value))
    node = CommentedSeq()
    node.extend(new_item(each, column + 2, flow=inline) for each in value)
    (node.fa.set_flow_style if inline else node.fa.set_block_style)()
    return node


def new_item(value: Any, column: int = 0, *, flow: bool = False) -> Any:
    """An item of a list whose dashes stand in this column: a list or a small mapping stands in one line."""
    if isinstance(value, Mapping):
        return new_mapping(value, column, flow=flow, item=True)
    return new_node(value, column, flow=flow or _is_list(value))


def new_scalar(value: Any, *, flow: bool = False) -> Any:
    """A number as short as it can be, or a text, in quotes where YAML, or a person, would read something else."""
    if value is None or isinstance(value, bool):
        return PlainScalarString({None: "null", True: "true", False: "false"}[value])
    if isinstance(value, int | float):
        return PlainScalarString(_number(value))
    if not isinstance(value, str):
        raise ValueError(f"no file can hold this: {type(value).__name__}")
    return PlainScalarString(value) if _needs_no_quotes(value, flow) else DoubleQuotedScalarString(value)


def _needs_no_quotes(text: str, flow: bool) -> bool:
    if _SIMPLE.fullmatch(text):
        return True
    digits_alone = text[:1].isdigit() and not any(c.isalpha() for c in text)  # a date, a time, an old octal
    if not text or digits_alone or not isinstance(plain_value(text), str):
        return False
    dumper = yaml.SafeDumper(io.StringIO(), allow_unicode=True)
    analysis = dumper.analyze_scalar(text)
    plain = analysis.allow_flow_plain if flow else analysis.allow_block_plain
    meant: Any = dumper.resolve  # untyped
    return plain and not analysis.multiline and meant(yaml.ScalarNode, text, (True, False)) == _TEXT_TAG


def _number(value: float) -> str:
    short = f"{value:g}"
    text = short if float(short) == value else repr(value)
    if plain_value(text) != value:
        raise ValueError(f"no file can hold this: {value}")
    return text


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _is_plain(value: Any) -> bool:
    return not isinstance(value, Mapping) and not _is_list(value)


def _is_small(value: Any) -> bool:
    """What may stand between braces: a word, a number, a few numbers."""
    return _is_plain(value) or (isinstance(value, Mapping) and bool(value) and all(map(_is_number, value.values())))


def _is_short(value: Any) -> bool:
    return _is_number(value) or (isinstance(value, str) and len(value) <= SHORT_WORDS and not value.endswith("."))


def _is_list(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str)
