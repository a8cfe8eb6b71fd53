"""New YAML as a person would have written it: blocks, small tables in one line, quotes only where they help."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import yaml
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.scalarstring import DoubleQuotedScalarString, PlainScalarString

from nopost.knowledge.edit.canonical_yaml import NotEditableError, write_tree
from nopost.knowledge.yaml_reader import parse_yaml, plain_value

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
