"""Change a YAML file as a person would: one value set or one entry added at the right place, everything else to the letter as
it was, so that order and comments stay.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import yaml

from nopost.knowledge.edit.yaml_text import WIDTH, entry_text, inline_text, item_text, scalar_text
from nopost.knowledge.yaml_reader import plain_value

Where = Sequence[str | int]


def set_value(text: str, where: Where, value: str | float | Mapping[str, float | str]) -> str:
    """The file's text with the value at `where` (keys and places in lists) set; a last key that is not there is added.

    A mapping is written in flow style, wrapped like its neighbours. Raises KeyError when the way there does not exist.
    """
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    parent = _node_at(root, where[:-1])
    key = where[-1]
    entry = _entry_at(parent, key)
    if entry is None:
        return _with_new_key(text, parent, str(key), value)
    begin, end = entry.start_mark.index, _end_of_value(text, entry)
    line = text.rfind("\n", 0, begin) + 1
    if isinstance(value, Mapping) and not parent.flow_style:
        # the whole entry, so that it can be wrapped anew
        name = next(k for k, v in parent.value if v is entry)
        column = name.start_mark.column
        return text[: name.end_mark.index] + ":" + _wrapped_flow(value, column, len(str(key)) + 1) + text[end:]
    return text[:begin] + _one_line(value, begin - line) + text[end:]


def _node_at(node: yaml.Node | None, where: Where) -> Any:
    for key in where:
        node = _entry_at(node, key)
        if node is None:
            raise KeyError(key)
    return node


def _entry_at(node: Any, key: str | int) -> Any:
    if isinstance(node, yaml.SequenceNode) and isinstance(key, int):
        return node.value[key] if 0 <= key < len(node.value) else None
    if isinstance(node, yaml.MappingNode):
        return next((value for name, value in node.value if name.value == key), None)
    return None


def _end_of_value(text: str, node: Any) -> int:
    """Where the value's own text ends; a block ends with its last value, so that comments below it stay."""
    if not isinstance(node, yaml.ScalarNode) and not node.flow_style and node.value:
        last = node.value[-1]
        return _end_of_value(text, last[1] if isinstance(node, yaml.MappingNode) else last)
    return len(text[: node.end_mark.index].rstrip()) if isinstance(node, yaml.ScalarNode) else int(node.end_mark.index)


def _with_new_key(text: str, parent: Any, key: str, value: Any) -> str:
    if not isinstance(parent, yaml.MappingNode):
        raise KeyError(key)
    if parent.flow_style:
        place = len(text[: parent.end_mark.index - 1].rstrip())
        comma = ", " if parent.value else ""
        return f"{text[:place]}{comma}{_short_scalar(key)}: {_one_line(value, 0)}{text[place:]}"
    column = parent.value[0][0].start_mark.column if parent.value else 0
    place = _end_of_value(text, parent)
    written = _wrapped_flow(value, column, len(key) + 1) if isinstance(value, Mapping) else f" {_short_scalar(value)}"
    return f"{text[:place]}\n{' ' * column}{_short_scalar(key)}:{written}{text[place:]}"


def _one_line(value: Any, column: int) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(_flow_pairs(value)) + "}"
    return _short_scalar(value)


def _wrapped_flow(value: Mapping[str, Any], column: int, taken: int) -> str:
    """The mapping after its key: in the same line when it fits, else wrapped below it."""
    short = " {" + ", ".join(_flow_pairs(value)) + "}"
    if column + taken + len(short) <= WIDTH:
        return short
    lines: list[str] = []
    for pair in _flow_pairs(value):
        if lines and len(lines[-1]) + len(pair) + 2 <= WIDTH - column - 4:
            lines[-1] += f" {pair},"
        else:
            lines.append(f"{pair},")
    indent = " " * (column + 2)
    body = f"\n{indent} ".join(lines).rstrip(",")
    return f"\n{indent}{{{body}}}"


def _flow_pairs(value: Mapping[str, Any]) -> list[str]:
    return [f"{_short_scalar(key)}: {_short_scalar(each)}" for key, each in value.items()]


def _short_scalar(value: Any) -> str:
    """A number as short as it can be, or a text, quoted where it must be."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"{value:g}" if float(f"{value:g}") == value else repr(value)
    if not isinstance(plain_value(value), str):
        return f'"{value}"'
    plain: str = yaml.safe_dump({"k": value}, default_flow_style=True, width=10**9, allow_unicode=True)
    return plain.strip()[4:-1]


def add_entry(text: str, where: Where, key: str, value: Any) -> str:
    """The file's text with `key: value` as the last entry of the mapping at `where` (() is the whole file).

    A mapping that is not there yet is made at the end of the one around it. Raises KeyError when the way there does not
    exist, or when the key stands there already.
    """
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    mapping = _node_or_none(root, where)
    if mapping is None:
        return add_entry(text, where[:-1], str(where[-1]), {key: value})
    if not isinstance(mapping, yaml.MappingNode) or any(name.value == key for name, _ in mapping.value):
        raise KeyError(key)
    if mapping.flow_style and not mapping.value and where and not _node_or_none(root, where[:-1]).flow_style:
        return _in_place(text, mapping, entry_text(key, value, _column(root, where)), _column(root, where))
    if mapping.flow_style:
        return _in_braces(text, mapping, f"{scalar_text(key, flow=True)}: {inline_text(value)}")
    return _below(text, mapping, entry_text(key, value, mapping.start_mark.column))


def add_item(text: str, where: Where, value: Any) -> str:
    """The file's text with the value as the last item of the list at `where`, which is made when it is not there.

    Raises KeyError when the way there does not exist.
    """
    items = _node_or_none(yaml.compose(text, Loader=yaml.SafeLoader), where)
    if items is None:
        return add_entry(text, where[:-1], str(where[-1]), [value])
    if not isinstance(items, yaml.SequenceNode):
        raise KeyError(where[-1])
    if items.flow_style:
        return _in_braces(text, items, inline_text(value))
    return _below(text, items, item_text(value, items.start_mark.column))


def _node_or_none(root: Any, where: Where) -> Any:
    """The node at the end of the way; None when only the last step leads nowhere."""
    node = root
    for place, key in enumerate(where):
        found = _child(node, key)
        if found is None:
            if place == len(where) - 1 and isinstance(node, yaml.MappingNode):
                return None
            raise KeyError(key)
        node = found
    return node


def _child(node: Any, key: str | int) -> Any:
    if isinstance(node, yaml.SequenceNode) and isinstance(key, int):
        return node.value[key] if 0 <= key < len(node.value) else None
    if isinstance(node, yaml.MappingNode):
        return next((value for name, value in node.value if name.value == key), None)
    return None


def _column(root: Any, where: Where) -> int:
    """Where the keys of a block begin that stands below this place."""
    return int(_node_or_none(root, where[:-1]).start_mark.column) + 2


def _in_place(text: str, node: Any, written: str, column: int) -> str:
    """A block instead of empty braces."""
    begin = len(text[: node.start_mark.index].rstrip(" "))
    end = node.end_mark.index
    line_end = text.find("\n", end)
    place = len(text) if line_end < 0 else line_end
    rest = text[end:place].rstrip("\r")
    line = _line_break(text)
    block = f"{' ' * column}{written}".replace("\n", line)
    return f"{text[:begin]}{rest}{line}{block}{text[end + len(rest) :]}"


def _in_braces(text: str, node: Any, written: str) -> str:
    """Behind the last entry, in a line of its own when the line would become too long."""
    if not node.value:
        return text[: node.start_mark.index + 1] + written + text[node.end_mark.index - 1 :]
    last = node.value[-1][1] if isinstance(node, yaml.MappingNode) else node.value[-1]
    place = _end_of_node(text, last)
    begin = text.rfind("\n", 0, place) + 1
    rest = text[place : node.end_mark.index].partition("\n")[0]
    fits = place - begin + len(", ") + len(written) + len(rest) <= WIDTH
    if fits:
        return f"{text[:place]}, {written}{text[place:]}"
    # a line of its own is indented like the entries above it
    first = node.value[0][0] if isinstance(node, yaml.MappingNode) else node.value[0]
    alone = not text[text.rfind("\n", 0, node.start_mark.index) + 1 : node.start_mark.index].strip()
    column = first.start_mark.column if alone else _indent(text, begin) + 2
    return f"{text[:place]},{_line_break(text)}{' ' * column}{written}{text[place:]}"


def _below(text: str, node: Any, written: str) -> str:
    """In a new line below the block's last entry, above comments that follow it."""
    place = _end_of_node(text, node)
    line_end = text.find("\n", place)
    place = len(text) if line_end < 0 else line_end  # a comment in the same line stays with its value
    if text[:place].endswith("\r"):
        place -= 1
    line = _line_break(text)
    lines = f"{' ' * node.start_mark.column}{written}".replace("\n", line)
    return f"{text[:place]}{line}{lines}{text[place:]}"


def _end_of_node(text: str, node: Any) -> int:
    """Where the node's own text ends; a block ends with its last value, so that comments below it stay below."""
    if not isinstance(node, yaml.ScalarNode) and not node.flow_style and node.value:
        last = node.value[-1]
        return _end_of_node(text, last[1] if isinstance(node, yaml.MappingNode) else last)
    # a folded text is said to end behind the empty lines below it
    return len(text[: node.end_mark.index].rstrip()) if isinstance(node, yaml.ScalarNode) else int(node.end_mark.index)


def _indent(text: str, begin: int) -> int:
    line = text[begin:].partition("\n")[0]
    return len(line) - len(line.lstrip(" "))


def _line_break(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"
