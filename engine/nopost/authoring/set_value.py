"""Change one value of a YAML file as a person would: only its own text, so that order and comments stay."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import yaml

from nopost.authoring.yaml_text import WIDTH
from nopost.knowledge.yaml_file import plain_value

Where = Sequence[str | int]


def set_value(text: str, where: Where, value: str | float | Mapping[str, float | str]) -> str:
    """The file's text with the value at `where` (keys and places in lists) set; a last key that is not there is added.

    A mapping is written in flow style, wrapped like its neighbours. Raises KeyError when the way there does not exist.
    """
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    parent = _find(root, where[:-1])
    key = where[-1]
    entry = _entry(parent, key)
    if entry is None:
        return _added(text, parent, str(key), value)
    begin, end = entry.start_mark.index, _end(text, entry)
    line = text.rfind("\n", 0, begin) + 1
    if isinstance(value, Mapping) and not parent.flow_style:
        # the whole entry, so that it can be wrapped anew
        name = next(k for k, v in parent.value if v is entry)
        column = name.start_mark.column
        return text[: name.end_mark.index] + ":" + _flow(value, column, len(str(key)) + 1) + text[end:]
    return text[:begin] + _inline(value, begin - line) + text[end:]


def _find(node: yaml.Node | None, where: Where) -> Any:
    for key in where:
        node = _entry(node, key)
        if node is None:
            raise KeyError(key)
    return node


def _entry(node: Any, key: str | int) -> Any:
    if isinstance(node, yaml.SequenceNode) and isinstance(key, int):
        return node.value[key] if 0 <= key < len(node.value) else None
    if isinstance(node, yaml.MappingNode):
        return next((value for name, value in node.value if name.value == key), None)
    return None


def _end(text: str, node: Any) -> int:
    """Where the value's own text ends; a block ends with its last value, so that comments below it stay."""
    if not isinstance(node, yaml.ScalarNode) and not node.flow_style and node.value:
        last = node.value[-1]
        return _end(text, last[1] if isinstance(node, yaml.MappingNode) else last)
    return len(text[: node.end_mark.index].rstrip()) if isinstance(node, yaml.ScalarNode) else int(node.end_mark.index)


def _added(text: str, parent: Any, key: str, value: Any) -> str:
    if not isinstance(parent, yaml.MappingNode):
        raise KeyError(key)
    if parent.flow_style:
        place = len(text[: parent.end_mark.index - 1].rstrip())
        comma = ", " if parent.value else ""
        return f"{text[:place]}{comma}{_scalar(key)}: {_inline(value, 0)}{text[place:]}"
    column = parent.value[0][0].start_mark.column if parent.value else 0
    place = _end(text, parent)
    written = _flow(value, column, len(key) + 1) if isinstance(value, Mapping) else f" {_scalar(value)}"
    return f"{text[:place]}\n{' ' * column}{_scalar(key)}:{written}{text[place:]}"


def _inline(value: Any, column: int) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(_pairs(value)) + "}"
    return _scalar(value)


def _flow(value: Mapping[str, Any], column: int, taken: int) -> str:
    """The mapping after its key: in the same line when it fits, else wrapped below it."""
    short = " {" + ", ".join(_pairs(value)) + "}"
    if column + taken + len(short) <= WIDTH:
        return short
    lines: list[str] = []
    for pair in _pairs(value):
        if lines and len(lines[-1]) + len(pair) + 2 <= WIDTH - column - 4:
            lines[-1] += f" {pair},"
        else:
            lines.append(f"{pair},")
    indent = " " * (column + 2)
    body = f"\n{indent} ".join(lines).rstrip(",")
    return f"\n{indent}{{{body}}}"


def _pairs(value: Mapping[str, Any]) -> list[str]:
    return [f"{_scalar(key)}: {_scalar(each)}" for key, each in value.items()]


def _scalar(value: Any) -> str:
    """A number as short as it can be, or a text, quoted where it must be."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"{value:g}" if float(f"{value:g}") == value else repr(value)
    if not isinstance(plain_value(value), str):
        return f'"{value}"'
    plain: str = yaml.safe_dump({"k": value}, default_flow_style=True, width=10**9, allow_unicode=True)
    return plain.strip()[4:-1]
