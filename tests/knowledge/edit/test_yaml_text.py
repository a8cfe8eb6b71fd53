"""What is written is read back: any data, awkward words, and every shipped file, in the shipped files' style."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from nopost.knowledge.edit.canonical_yaml import WIDTH, read_tree, write_tree, yaml_text
from nopost.knowledge.yaml_reader import parse_yaml
from nopost.text import find_control

KB = Path(__file__).resolve().parents[3] / "kb"
AWKWARD = [
    *("", " ", "  x", "x  ", "00", "007", "off", "on", "yes", "no", "n", "null", "~", "true", "True", "1e5", "1E5", "1_000"),
    *("0x1F", "0b1", "0o7", "1:30", "190:20:30", "2031-05-17", "2031-05-17 10:00:00", ".inf", ".nan", ".5", "1.", "-1", "+1"),
    *(
        "-",
        "- a",
        "? a",
        ": a",
        ";:?",
        "a: b",
        "a:",
        "a #b",
        "#",
        "&a",
        "*a",
        "!a",
        "%a",
        "@a",
        "`a",
        "|",
        ">",
        ">-",
        "{a}",
        "[a]",
        "a, b",
    ),
    *("'", '"', "''", "it's", '"quoted"', "\\", "\\n", "=", "<<", "---", "...", "--- a", "a\nb", "a\n", "\na", "a\n\nb", "a\tb"),
    *("\u00a0", "é", "\U0001f9f0", "a\u00a0b", "1" * 39, "1" * 40, "1e999", "NaN", "Infinity", "word " * 60, "x" * 300, "1-3-1"),
    *("word " * 40 + "word", "# " + "word " * 40 + "word", "- " + "a: b " * 40 + "c", "--- " * 40 + "a"),
]
TEXT = st.one_of(
    st.sampled_from(AWKWARD),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Cn", "Co", "Zl", "Zp"]), max_size=40),
    st.text(st.sampled_from("ab:-#,{}[]'\"\\ \n\t&*!%|>?0123.e"), max_size=200),
)
SCALAR = st.one_of(
    TEXT, st.booleans(), st.none(), st.integers(-(10**30), 10**30), st.floats(allow_nan=False, allow_infinity=False)
)
DATA = st.recursive(
    SCALAR, lambda inner: st.one_of(st.lists(inner, max_size=5), st.dictionaries(TEXT, inner, max_size=5)), max_leaves=12
)


def back(text: str) -> Any:
    """What the one reader makes of it."""
    document, problems = parse_yaml(text, "x")
    assert problems == []
    return document.data


def same(one: Any, other: Any) -> bool:
    """Equal, keys in the same order, and 1 is not true; 1.0 may be written as 1."""
    return json.dumps(_whole(one)) == json.dumps(_whole(other))


def _whole(data: Any) -> Any:
    if isinstance(data, dict):
        return {key: _whole(value) for key, value in data.items()}
    if isinstance(data, list):
        return [_whole(value) for value in data]
    return int(data) if isinstance(data, float) and data.is_integer() else data


@pytest.mark.slow
@given(st.dictionaries(TEXT, DATA, max_size=6))
def test_round_trip(data: dict[str, Any]) -> None:
    """Any JSON data without control characters, keys in their order."""
    text = json.dumps(data, ensure_ascii=False)
    assume("\ufeff" not in text and not find_control(text))
    assert same(back(yaml_text(data)), data)


def awkward(text: str) -> dict[str, Any]:
    """Data with a text as value, key, list item, between braces and brackets, and within a list of mappings."""
    return {
        "a": text,
        text or "k": "x",
        "l": [text, text],
        "m": {"id": 1, text: 2},
        "d": {"x": {"y": text, "z": "w"}},
        "i": [{"id": text, "text": text}, {"derive": {"finding": text, "answer": text}}],
    }


def test_awkward_words() -> None:
    """Wherever they stand."""
    assert [text for text in AWKWARD if not same(back(yaml_text(awkward(text))), awkward(text))] == []


@pytest.mark.slow
def test_shipped() -> None:
    """Every shipped file as a program would have written it: the same data, no longer lines than the limit."""
    wrong = []
    for path in sorted(KB.rglob("*.yaml")):
        data = back(path.read_text(encoding="utf-8"))
        text = yaml_text(data)
        if not same(back(text), data) or max(map(len, text.splitlines())) > WIDTH or write_tree(read_tree(text)) != text:
            wrong.append(path.relative_to(KB))
    assert wrong == []


@pytest.mark.parametrize("name", ["causes/memory-not-seated", "rules/person/after-cpu-change-means-cpu-or-cooler-handled"])
def test_style(name: str) -> None:
    """Blocks, braces, brackets and quotes stand where the shipped files have them; only texts may be folded elsewhere."""
    text = (KB / f"{name}.yaml").read_text(encoding="utf-8")
    written = yaml_text(back(text))
    assert [word for word in written.split() if word != ">-"] == [word for word in text.split() if word != ">-"]


@pytest.mark.parametrize(
    "value",
    [float("nan"), float("inf"), 10**50, "\x07", "a\x85b", "\ud800", "\u2028", object(), {1: 2}, (1, 2)],
    ids=lambda value: type(value).__name__,
)
def test_refused(value: Any) -> None:
    """What no file can hold is refused, not bent."""
    with pytest.raises(ValueError, match="no file can hold this"):
        yaml_text({"k": value})


def test_aliases_never() -> None:
    """The same list twice is written twice; the reader knows no aliases."""
    one = ["a", {"b": 1}]
    assert back(yaml_text({"x": one, "y": one})) == {"x": one, "y": one}


def test_empty() -> None:
    """Nothing is an empty mapping, and empty things within stay what they are."""
    assert back(yaml_text({})) == {}
    assert back(yaml_text({"a": {}, "b": [], "c": [{}, []]})) == {"a": {}, "b": [], "c": [{}, []]}
