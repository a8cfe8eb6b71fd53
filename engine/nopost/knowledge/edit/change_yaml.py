"""Change a knowledge file as a person would: a value set, an entry or an item added; comments, quotes and order stay.

A canonical file differs from what it was in just this change; another one is made canonical on the way.
"""

from __future__ import annotations

from typing import Any

from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.error import CommentMark
from ruamel.yaml.scalarstring import FoldedScalarString, LiteralScalarString
from ruamel.yaml.tokens import CommentToken

from nopost.errors import KnowledgeError, OutputError
from nopost.knowledge.edit.canonical_yaml import (
    NotEditableError,
    comment_marks,
    comment_slots,
    new_node,
    new_scalar,
    read_tree,
    write_tree,
)
from nopost.knowledge.yaml_reader import KeyPath, parse_yaml


def canonical_text(text: str, name: str = "the file") -> str:
    """The text of a file in canonical form; the same data, the same comments. Raises what `EditableYaml` raises."""
    return EditableYaml(text, name).text()


class EditableYaml:
    """The text of one file, held so that it can be changed. `name` stands in the errors.

    Raises KnowledgeError for what the loader refuses (aliases, tags, a key that stands twice …), OutputError for the little that
    it reads and that a program cannot change without a loss, such as comments between braces.
    """

    def __init__(self, text: str, name: str = "the file") -> None:
        document, problems = parse_yaml(text, name)
        if problems:
            raise KnowledgeError(problems)
        self._name = name
        self.before = text
        """The text as it was given."""
        self.data: Any = document.data
        """What the file says, with the changes."""
        self._begin = "\ufeff" if text.startswith("\ufeff") else ""
        self._line_break = "\r\n" if "\r\n" in text else "\n"
        body = text.removeprefix("\ufeff").replace("\r\n", "\n").lstrip("\n")
        try:
            self._tree = read_tree(body)
            self._unchanged: str | None = write_tree(self._tree)
        except NotEditableError as error:
            raise self._refusal(str(error)) from None
        if comment_marks(self._unchanged, self.data) != comment_marks(body, self.data):
            raise self._refusal("it has a comment between braces or brackets, or behind a folded text")

    def _refusal(self, why: str) -> OutputError:
        return OutputError(f"{self._name}: cannot be changed by a program: {why}; do it in an editor")

    def text(self) -> str:
        """The text with the changes, in canonical form; its line ends and a byte order mark stay. Raises OutputError."""
        try:
            text = self._unchanged or write_tree(self._tree)
        except NotEditableError as error:
            raise self._refusal(str(error)) from None
        document, problems = parse_yaml(text, self._name)
        if problems or document.data != self.data:
            raise self._refusal("it would be read as something else")
        return self._begin + text.replace("\n", self._line_break)

    def set_value(self, where: KeyPath, value: Any) -> None:
        """Set the value at `where` (keys, and places in lists); a last key that is not there is added.

        Raises KeyError when the way there does not exist.
        """
        holder, key = self._node(where[:-1]), where[-1]
        if not _has(holder, key):
            self.add_entry(where[:-1], str(key), value)
            return
        below = _take_comments_below(holder, key)
        holder[key] = new_node(value, top=len(where) == 1)
        _put_comments_below(holder, key, below)
        self._unchanged = None
        _at(self.data, where[:-1])[key] = value

    def add_entry(self, where: KeyPath, key: str, value: Any) -> None:
        """Add `key: value` as the last entry of the mapping at `where`; () is the whole file.

        A mapping that is not there is made at the end of the one around it. Raises KeyError when the way there does not exist, or
        when the key stands there already.
        """
        if where and not _has(self._node(where[:-1]), where[-1]):
            self.add_entry(where[:-1], str(where[-1]), {key: value})
            return
        mapping = self._node(where)
        if not isinstance(mapping, CommentedMap) or key in mapping:
            raise KeyError(key)
        if not mapping and where and not self._node(where[:-1]).fa.flow_style():
            mapping.fa.set_block_style()
        below = _take_comments_below(mapping, list(mapping)[-1]) if mapping and not mapping.fa.flow_style() else ""
        name = new_scalar(key)
        mapping[name] = new_node(value, top=not where)
        _put_comments_below(mapping, name, below)
        self._unchanged = None
        _at(self.data, where)[key] = value

    def add_item(self, where: KeyPath, value: Any) -> None:
        """Add the last item of the list at `where`, which is made when it is not there.

        Raises KeyError when the way there does not exist.
        """
        if where and not _has(self._node(where[:-1]), where[-1]):
            self.add_entry(where[:-1], str(where[-1]), [value])
            return
        items = self._node(where)
        if not isinstance(items, CommentedSeq):
            raise KeyError(where[-1] if where else "")
        if not items:
            (items.fa.set_flow_style if new_node([value]).fa.flow_style() else items.fa.set_block_style)()
        below = _take_comments_below(items, len(items) - 1) if items and not items.fa.flow_style() else ""
        items.append(new_node(value, item=True))
        _put_comments_below(items, len(items) - 1, below)
        self._unchanged = None
        _at(self.data, where).append(value)

    def _node(self, where: KeyPath) -> Any:
        node = self._tree
        for key in where:
            if not _has(node, key):
                raise KeyError(key)
            node = node[key]
        return node


def _has(node: Any, key: str | int) -> bool:
    if isinstance(node, CommentedSeq):
        return isinstance(key, int) and 0 <= key < len(node)
    return isinstance(node, CommentedMap) and key in node


def _at(data: Any, where: KeyPath) -> Any:
    for key in where:
        data = data[key]
    return data


def _take_comments_below(holder: Any, key: Any) -> str:
    """Comments and empty lines below the entry, taken away from it: the tree keeps them with its last value."""
    holder, key = _last_value(holder, key)
    slots, place = comment_slots(holder, key)
    token = slots[place]
    if not token:
        return ""
    own, _, below = ("", "", token.value) if _ends_its_line(holder[key]) else token.value.partition("\n")
    if own:
        token.value = f"{own}\n"
    else:
        slots[place] = None
    return str(below)


def _put_comments_below(holder: Any, key: Any, below: str) -> None:
    """Put below the entry what was taken away from below another one."""
    if not below:
        return
    holder, key = _last_value(holder, key)
    slots, place = comment_slots(holder, key)
    own = slots[place]
    begin = own.value if own else "" if _ends_its_line(holder[key]) else "\n"
    slots[place] = CommentToken(begin + below, start_mark=CommentMark(own.start_mark.column if own else 0), end_mark=None)


def _last_value(holder: Any, key: Any) -> tuple[Any, Any]:
    """Holder and key of the last value of a block."""
    value = holder[key]
    if not isinstance(value, CommentedMap | CommentedSeq) or not value or value.fa.flow_style():
        return holder, key
    return _last_value(value, list(value)[-1] if isinstance(value, CommentedMap) else len(value) - 1)


def _ends_its_line(value: Any) -> bool:
    return isinstance(value, FoldedScalarString | LiteralScalarString)
