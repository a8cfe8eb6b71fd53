"""One value of a file is changed, and nothing else: on every shipped item and on awkward texts."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.knowledge.edit.change_yaml import EditableYaml, canonical_text
from nopost.knowledge.yaml_reader import read_yaml

KB = Path(__file__).resolve().parents[3] / "kb"
CAUSES = sorted((KB / "causes").glob("*.yaml"))
NAME = st.from_regex(r"[a-z][a-z0-9-]{0,20}", fullmatch=True)


def set_value(text: str, where: Sequence[str | int], value: Any) -> str:
    """The text with a value set."""
    file = EditableYaml(text)
    file.set_value(tuple(where), value)
    return file.text()


def data(text: str, folder: Path) -> Any:
    """What the one reader makes of it."""
    path = folder / "x.yaml"
    path.write_text(text, encoding="utf-8")
    document, problems = read_yaml(path)
    assert problems == []
    return document.data


def changed_lines(old: str, new: str) -> set[str]:
    """Lines of the old text that are gone."""
    return set(old.splitlines()) - set(new.splitlines())


@pytest.mark.slow
def test_shipped_causes(tmp_path: Path) -> None:
    """A weight, a fix, a whole distribution, a new fix and a new finding: the rest stays as it was, to the letter."""
    for path in CAUSES:
        change_cause(path, tmp_path)


def change_cause(path: Path, tmp_path: Path) -> None:
    """Change the file of one cause."""
    text = path.read_text(encoding="utf-8")
    before = data(text, tmp_path)
    fix, shown = next(iter(before["fixes"])), next(iter(before["shows"]))
    table = {f"answer-{k}": round(0.01 * k, 2) for k in range(12)}
    file = EditableYaml(text)
    file.set_value(("weight",), 3.25)
    file.set_value(("fixes", fix), 0.123)
    file.set_value(("shows", shown), table)
    file.set_value(("fixes", "a-new-fix"), 0.5)
    file.set_value(("shows", "a-new-finding"), {"yes": 0.5, "no": 0.5})
    file.set_value(("source", "weight"), "judgement; 7 closed cases")
    new = file.text()
    after = data(new, tmp_path)
    before["weight"], before["fixes"][fix], before["shows"][shown] = 3.25, 0.123, table
    before["fixes"]["a-new-fix"], before["shows"]["a-new-finding"] = 0.5, {"yes": 0.5, "no": 0.5}
    before["source"]["weight"] = "judgement; 7 closed cases"
    assert after == before, path
    assert list(after) == list(before), path
    assert max(map(len, new.splitlines())) <= max(130, max(map(len, text.splitlines()))), path


COMMENTED = """\
# a cause
id: x
weight: 7  # of a thousand
shows:
  lamp: {lit: 0.2, dark: 0.8}  # seen twice
  sound:
    loud: 0.5
    # between
    quiet: 0.5
  # below the block
fixes: {}
title: >-
  Two
  lines
# the end
"""


@pytest.mark.parametrize(
    ("where", "value", "gone"),
    [
        (["weight"], 8, {"weight: 7  # of a thousand"}),
        (["shows", "lamp", "dark"], 0.9, {"  lamp: {lit: 0.2, dark: 0.8}  # seen twice"}),
        (["shows", "sound", "loud"], 0.1, {"    loud: 0.5"}),
        (["shows", "sound"], {"loud": 1}, {"  sound:", "    loud: 0.5", "    # between", "    quiet: 0.5"}),
        (["shows", "more"], {"a": 1}, set()),
        (["fixes", "press"], 0.5, {"fixes: {}"}),
        (["title"], "One line", {"title: >-", "  Two", "  lines"}),
    ],
)
def test_comments_stay(where: list[str | int], value: Any, gone: set[str], tmp_path: Path) -> None:
    """Every comment outside of the value, and every other line."""
    new = set_value(COMMENTED, where, value)
    assert changed_lines(COMMENTED, new) == gone
    assert canonical_text(new) == new
    holder = data(new, tmp_path)
    for key in where[:-1]:
        holder = holder[key]
    assert holder[where[-1]] == value
    for comment in ("# a cause", "# of a thousand", "# seen twice", "# below the block", "# the end"):
        assert comment in new


@pytest.mark.slow
@given(key=NAME, text=st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=60))
def test_any_text(key: str, text: str, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Whatever is written is read back: words that YAML would take for something else are quoted."""
    new = set_value("id: x\nsource: {}\n", ["source", f"k-{key}"], text.strip() or "x")
    assert data(new, tmp_path_factory.getbasetemp()) == {"id": "x", "source": {f"k-{key}": text.strip() or "x"}}


@pytest.mark.parametrize(
    "text", ["00", "off", "no", "1-3-1", "1e5", "null", "true", "2031-05-17", "~", "a: b", "# x", "0x1F", "-1"]
)
def test_words_that_look_like_something_else(text: str, tmp_path: Path) -> None:
    """Stay text."""
    assert data(set_value("id: x\nsource: {}\n", ["source", "k"], text), tmp_path)["source"]["k"] == text


@pytest.mark.parametrize("where", [["nowhere", "x"], ["weight", "x"], ["shows", "sound", "loud", "x"]])
def test_no_such_way(where: list[str | int]) -> None:
    """The way to the value must be there."""
    with pytest.raises(KeyError):
        set_value(COMMENTED, where, 1)
