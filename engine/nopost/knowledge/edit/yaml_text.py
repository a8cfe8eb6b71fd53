"""YAML text in the style of the shipped knowledge: blocks, long texts folded, small tables in one line."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import yaml

from nopost.knowledge.yaml_reader import parse_yaml, plain_value

WIDTH = 105
"""Columns of a line."""
SHORT = 30
"""Longer texts do not stand in a list within one line."""
_PLAIN = re.compile("[a-z][a-z0-9]*(-[a-z0-9]+)+|[A-Z][a-z]+( [A-Za-z0-9]+)+[.]?")
"""Ids and simple sentences: so plain that nothing needs to be asked."""
_BREAKS = frozenset("\t\n\r\x85\u2028\u2029\ufeff")


def yaml_text(data: Mapping[str, Any]) -> str:
    """The data as YAML, keys in their order; the one YAML reader reads the same data back.

    Raises ValueError for what no file can hold: other types than JSON's, control characters, too much or too deep.
    """
    text = "".join(f"{scalar_text(key)}:{_value(value, 0, len(scalar_text(key)) + 1, top=True)}\n" for key, value in data.items())
    text = text or "{}\n"
    document, problems = parse_yaml(text, "the text")
    if problems:
        raise ValueError(f"no file can hold this: {problems[0].message}")
    if document.data != data:
        raise ValueError("no file can hold this: it would be read as something else")
    return text


def entry_text(key: str, value: Any, column: int) -> str:
    """`key: value` for a block whose keys begin in this column; no line end. Its first line is not indented."""
    name = scalar_text(key)
    return f"{name}:{_value(value, column, len(name) + 1, top=False)}"


def item_text(value: Any, column: int) -> str:
    """`- value` for a block list whose dashes stand in this column; no line end. Its first line is not indented."""
    return f"-{_item(value, column)}"


def inline_text(value: Any) -> str:
    """The value in one line, as it may stand between braces."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(_pairs(value)) + "}"
    if _is_list(value):
        return "[" + ", ".join(inline_text(each) for each in value) + "]"
    return scalar_text(value, flow=True)


def scalar_text(value: Any, *, flow: bool = False) -> str:
    """A number as short as it can be, or a text, in quotes where YAML would read something else.

    `flow`: it stands between braces or brackets.
    """
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, int | float):
        return _number(value)
    if not isinstance(value, str):
        raise ValueError(f"no file can hold this: {type(value).__name__}")
    if _PLAIN.fullmatch(value):
        return value
    if isinstance(plain_value(value), str):
        plain: str = yaml.safe_dump({"k": value}, default_flow_style=flow, width=10**9, allow_unicode=True).strip()
        plain = plain[4:-1] if flow else plain[3:]
        if plain == value and not _misleads(value):
            return plain
    quoted: str = yaml.safe_dump(value, default_style='"', width=10**9, allow_unicode=True)
    return quoted.strip("\n")


def _misleads(text: str) -> bool:
    """Whether a person or another reader might take it for something else than text: a date, a list, an old octal."""
    return text[0].isdigit() and not any(c.isalpha() for c in text)


def _number(value: float) -> str:
    short = f"{value:g}"
    text = short if float(short) == value else repr(value)
    if plain_value(text) != value:
        raise ValueError(f"no file can hold this: {value}")
    return text


def _value(value: Any, column: int, taken: int, *, top: bool) -> str:
    """What stands after `key:`, with the space or the line break before it."""
    if isinstance(value, Mapping):
        return _mapping(value, column, taken, top=top)
    if _is_list(value):
        return _list(value, column, taken)
    return _scalar(value, column, taken)


def _scalar(value: Any, column: int, taken: int) -> str:
    """In its line when it fits, else folded below."""
    text = f" {scalar_text(value)}"
    fits = column + taken + len(text) <= WIDTH and (not isinstance(value, str) or len(value) <= WIDTH - 20)
    if fits or not isinstance(value, str) or not _folds(value):
        return text
    indent = " " * (column + 2)
    return f" >-\n{indent}" + f"\n{indent}".join(_wrapped(value, WIDTH - column - 2))


def _folds(text: str) -> bool:
    """Whether folding keeps it: single plain spaces, none at the ends, nothing that breaks lines by itself."""
    return all(text.split(" ")) and not _BREAKS & set(text)


def _wrapped(text: str, width: int) -> list[str]:
    lines: list[str] = []
    for word in text.split(" "):
        if lines and len(lines[-1]) + 1 + len(word) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _mapping(value: Mapping[str, Any], column: int, taken: int, *, top: bool) -> str:
    if not value:
        return " {}"
    numbers = all(_is_number(each) for each in value.values())
    small = numbers or (not top and all(_is_small(each) for each in value.values()))
    line = f" {inline_text(value)}"
    if small and column + taken + len(line) <= WIDTH:
        return line
    if numbers:
        indent = " " * (column + 2)
        return f"\n{indent}{{" + f"\n{indent} ".join(_packed(_pairs(value), WIDTH - column - 4)) + "}"
    indent = " " * (column + 2)
    return "\n" + "\n".join(indent + entry_text(key, each, column + 2) for key, each in value.items())


def _packed(pairs: Sequence[str], width: int) -> list[str]:
    """As many pairs in a line as fit, commas between."""
    lines: list[str] = []
    for place, pair in enumerate(pairs):
        shown = f"{pair}," if place < len(pairs) - 1 else pair
        if lines and len(lines[-1]) + 1 + len(shown) <= width:
            lines[-1] += f" {shown}"
        else:
            lines.append(shown)
    return lines


def _list(value: Sequence[Any], column: int, taken: int) -> str:
    line = f" {inline_text(value)}"
    if not value:
        return line
    words = all(_is_number(each) or (isinstance(each, str) and len(each) <= SHORT and not each.endswith(".")) for each in value)
    if words and column + taken + len(line) <= WIDTH:
        return line
    indent = " " * (column + 2)
    return "\n" + "\n".join(indent + item_text(each, column + 2) for each in value)


def _item(value: Any, column: int) -> str:
    """What stands after the dash in this column."""
    if _is_list(value):
        return f" {inline_text(value)}"
    if not isinstance(value, Mapping):
        return _scalar(value, column, 1)
    line = f" {inline_text(value)}"
    words = len(value) != 1 and all(_is_plain(each) for each in value.values())
    if not value or (words and column + 1 + len(line) <= WIDTH):
        return line
    first, *rest = (entry_text(key, each, column + 2) for key, each in value.items())
    return "".join([f" {first}", *(f"\n{' ' * (column + 2)}{each}" for each in rest)])


def _pairs(value: Mapping[str, Any]) -> list[str]:
    return [f"{scalar_text(key, flow=True)}: {inline_text(each)}" for key, each in value.items()]


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _is_plain(value: Any) -> bool:
    return not isinstance(value, Mapping) and not _is_list(value)


def _is_small(value: Any) -> bool:
    """What may stand between braces: a word, a number, a few numbers."""
    return _is_plain(value) or (isinstance(value, Mapping) and bool(value) and all(map(_is_number, value.values())))


def _is_list(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str)
