"""Something is added to a file, and nothing else changes: every shipped item, awkward layouts, any line ends.

A file that is not canonical becomes so on the way.
"""

from __future__ import annotations

from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.knowledge.edit.canonical_yaml import PROSE_WIDTH
from nopost.knowledge.edit.change_yaml import EditableYaml, canonical_text
from nopost.knowledge.yaml_reader import KeyPath, parse_yaml

KB = Path(__file__).resolve().parents[3] / "kb"
SHARES = {"normal": 0.25, "low": 0.75}
LONG = "a rather long text that stands in the list of what is to be done " * 3


def add_entry(text: str, where: KeyPath, key: str, value: Any) -> str:
    """The text with an entry more."""
    file = EditableYaml(text)
    file.add_entry(where, key, value)
    return file.text()


def add_item(text: str, where: KeyPath, value: Any) -> str:
    """The text with an item more."""
    file = EditableYaml(text)
    file.add_item(where, value)
    return file.text()


def data(text: str) -> Any:
    """What the one reader makes of it."""
    document, problems = parse_yaml(text, "x")
    assert problems == []
    return document.data


def only_added(old: str, new: str) -> bool:
    """Whether the old characters are all there in their order."""
    return all(tag in ("equal", "insert") for tag, *_ in SequenceMatcher(None, old, new, autojunk=False).get_opcodes())


def kept_lines(old: str, new: str) -> int:
    """How many of the old lines are gone from the new text."""
    rest = new.splitlines()
    gone = 0
    for line in old.splitlines():
        if line in rest:
            rest = rest[rest.index(line) + 1 :]
        else:
            gone += 1
    return gone


@pytest.mark.slow
def test_shipped_causes() -> None:
    """A finding, a fix and a hazard more: the data with them, the order kept, no old line touched but those of rows that grew."""
    for path in sorted((KB / "causes").glob("*.yaml")):
        add_to_cause(path)


def add_to_cause(path: Path) -> None:
    """Add to the file of one cause what it has not."""
    text = path.read_text(encoding="utf-8")
    before = data(text)
    file = EditableYaml(text)
    file.add_entry(("shows",), "new-finding", SHARES)
    assert kept_lines(text, file.text()) == 0, path
    file.add_entry(("fixes",), "new-fix", 0.5)
    file.add_item(("hazards",), "new-hazard")
    new = file.text()
    assert kept_lines(text, new) <= 3, path
    before["shows"]["new-finding"], before["fixes"]["new-fix"] = SHARES, 0.5
    before["hazards"] = [*before.get("hazards", []), "new-hazard"]
    after = data(new)
    assert after == before, path
    assert list(after["shows"]) == list(before["shows"]), path
    assert max(map(len, new.splitlines())) <= max(130, *map(len, text.splitlines())), path


def test_shipped_base() -> None:
    """Parts, tools and opening questions of the shipped base."""
    text = (KB / "base.yaml").read_text(encoding="utf-8")
    tool = {"title": "A thing: with a colon", "effort": {"minutes": 2, "money": 1.5}}
    new = add_entry(add_entry(text, ("parts",), "pump", "Pump"), ("tools",), "thing", tool)
    new = add_item(new, ("opening",), "stage")
    before = data(text)
    before["parts"]["pump"], before["tools"]["thing"] = "Pump", tool
    before["opening"].append("stage")
    assert data(new) == before
    assert kept_lines(text, new) == 1


@pytest.mark.slow
def test_shipped_findings() -> None:
    """A key more at the end of the file."""
    for path in sorted((KB / "findings").glob("*.yaml")):
        text = path.read_text(encoding="utf-8")
        before = data(text)
        if "action" in before:
            with pytest.raises(KeyError):
                add_entry(text, (), "action", "try-it")
        else:
            new = add_entry(text, (), "action", "try-it")
            assert data(new) == {**before, "action": "try-it"}, path
            assert kept_lines(text, new) == 0, path


LAYOUTS = [
    ("a:\n  x: 1  # one\n  # below\nb: 2\n", "a:\n  x: 1  # one\n  n: 5\n  # below\nb: 2\n"),
    ("a:\n  x: 1\n\n# of b\n\n# of b too\nb: 2\n", "a:\n  x: 1\n  n: 5\n\n# of b\n\n# of b too\nb: 2\n"),
    ("a: {x: 1}  # one\n", "a: {x: 1, n: 5}  # one\n"),
    ("a: {x: 1, y: {}}\n", "a: {x: 1, y: {}, n: 5}\n"),
    ("a:\n  x: {y: 1}  # one\n# of b\nb: 2\n", "a:\n  x: {y: 1}  # one\n  n: 5\n# of b\nb: 2\n"),
    ("a:\n  {x: 1,\n   y: 2}\nb: 2\n", "a: {x: 1, y: 2, n: 5}\nb: 2\n"),
    (
        "a:\n    x: >-\n      folded\n      text\n\n# end\nb: 2\n",
        "a:\n  x: >-\n    folded\n    text\n  n: 5\n\n# end\nb: 2\n",
    ),
    ("a:\n  x: |\n    kept\n", "a:\n  x: |\n    kept\n  n: 5\n"),
    ("a:\n  x: |\n    kept\n# of b\nb: 2\n", "a:\n  x: |\n    kept\n  n: 5\n# of b\nb: 2\n"),
    ("a:\n  x:\n    - one\n    - {two: 2}\nb: 2", "a:\n  x:\n    - one\n    - {two: 2}\n  n: 5\nb: 2\n"),
    ("a:\n  x:\n    - one  # one\n    # below\nb: 2\n", "a:\n  x:\n    - one  # one\n  n: 5\n    # below\nb: 2\n"),
    ("b: 2", "b: 2\na: {n: 5}\n"),
    ("b: 2\n\n# the end\n", "b: 2\na: {n: 5}\n\n# the end\n"),
    ("b: 2\r\na:\r\n  x: 1\r\n", "b: 2\r\na:\r\n  x: 1\r\n  n: 5\r\n"),
    ("\ufeffa:\n  x: 1\n", "\ufeffa:\n  x: 1\n  n: 5\n"),
    ("a: {x: 'it''s # no comment'} # one\n", "a: {x: 'it''s # no comment', n: 5}  # one\n"),
    ("a:\n  x: plain text\n    over two lines # one\nb: 1\n", "a:\n  x: plain text over two lines  # one\n  n: 5\nb: 1\n"),
    ("a: # note\n  x: 1\n", "a:  # note\n  x: 1\n  n: 5\n"),
    ("a: {}\nb: 2\n", "a:\n  n: 5\nb: 2\n"),
    ("a: {}  # none yet\nb: 2\n", "a:     # none yet\n  n: 5\nb: 2\n"),
    ("a: {}\r\nb: 2\r\n", "a:\r\n  n: 5\r\nb: 2\r\n"),
]


@pytest.mark.parametrize(("old", "new"), LAYOUTS, ids=range(len(LAYOUTS)))
def test_layouts(old: str, new: str) -> None:
    """To the letter: the entry, and nothing else than in the canonical form."""
    assert add_entry(old, ("a",), "n", 5) == new
    assert canonical_text(new) == new
    assert only_added(canonical_text(old).replace("a: {} ", "a:    ").replace("a: {}", "a:"), new)


@pytest.mark.parametrize(
    ("old", "value", "new"),
    [
        ("l: [a, b]  # two\n", "c", "l: [a, b, c]  # two\n"),
        ("l: []\n", "no", 'l: ["no"]\n'),
        ("l:\n  - a\n  # below\nb: 1\n", "c", "l:\n  - a\n  - c\n  # below\nb: 1\n"),
        ("l:\n- a\nb: 1\n", "c", "l:\n  - a\n  - c\nb: 1\n"),
        ("b: 1\n", "c", "b: 1\nl: [c]\n"),
        ("l:\n  - a: 1\n", {"rule-out": "x"}, "l:\n  - a: 1\n  - rule-out: x\n"),
        ("l:\n  - a: 1\n    b: 2\n", {"a": "x", "b": 3}, "l:\n  - a: 1\n    b: 2\n  - {a: x, b: 3}\n"),
    ],
)
def test_lists(old: str, value: Any, new: str) -> None:
    """The same with lists."""
    assert add_item(old, ("l",), value) == new


def test_long_lines_are_broken() -> None:
    """What would pass the margin gets a line for each entry, and a long text is folded."""
    text = "fixes: {" + ", ".join(f"fix-number-{k}: 0.5" for k in range(6)) + "}\n"
    new = add_entry(text, ("fixes",), "another-fix-with-a-long-name", 0.25)
    assert new.splitlines()[-2:] == ["  fix-number-5: 0.5", "  another-fix-with-a-long-name: 0.25"]
    flow = "opening: [" + ", ".join(f"finding-number-{k}" for k in range(7)) + "]\n"
    assert add_item(flow, ("opening",), "one-more").splitlines()[-1] == "  - one-more"
    folded = add_item("l:\n  - a\n", ("l",), LONG.strip())
    assert data(folded)["l"] == ["a", LONG.strip()]
    assert max(map(len, folded.splitlines())) <= PROSE_WIDTH


@pytest.mark.parametrize(
    ("text", "where", "key"),
    [("a: 1\n", ("a",), "n"), ("a: {n: 1}\n", ("a",), "n"), ("a: 1\n", ("b", "c"), "n"), ("- a\n", (), "n")],
)
def test_no_way(text: str, where: tuple[str, ...], key: str) -> None:
    """A way that does not exist, or a key that stands there."""
    with pytest.raises(KeyError):
        add_entry(text, where, key, 5)
    with pytest.raises(KeyError):
        add_item("a: {b: 1}\n", ("a",), 5)


WORD = st.one_of(
    st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "S", "Zs"], exclude_characters="\ufeff"), max_size=30),
    st.sampled_from(["no", "00", "1e5", "a: b", "# x", "null", "1:30", "- a", "x" * 200, "word " * 40]),
)


@pytest.mark.slow
@given(key=WORD, value=st.one_of(WORD, st.dictionaries(WORD, WORD, max_size=3), st.lists(WORD, max_size=3)), flow=st.booleans())
def test_any_text(key: str, value: Any, flow: bool) -> None:
    """Whatever is added is read back, and what was there too."""
    old = "a: {x: 1}\nb: 2\n" if flow else "a:\n  x: 1  # one\nb: 2\n"
    if key == "x":
        return
    new = add_entry(old, ("a",), key, value)
    assert data(new) == {"a": {"x": 1, key: value}, "b": 2}
    assert data(add_item("l: [a]\nb: 2\n" if flow else "l:\n  - a\nb: 2\n", ("l",), value)) == {"l": ["a", value], "b": 2}
