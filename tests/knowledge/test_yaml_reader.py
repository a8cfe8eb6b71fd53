"""The YAML reader: JSON scalars only, hostile files named with their line, and never an exception."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from nopost.knowledge.build import MAX_BYTES
from nopost.knowledge.yaml_reader import MAX_DEPTH, parse_yaml, read_yaml

LOADERS = [pytest.param(yaml.SafeLoader, id="pure")]
if hasattr(yaml, "CSafeLoader"):
    LOADERS.append(pytest.param(yaml.CSafeLoader, id="libyaml"))
BASE_LOADER = getattr(yaml, "CBaseLoader", yaml.BaseLoader)


@pytest.fixture(params=LOADERS)
def _each_loader(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Read with libyaml and without."""
    monkeypatch.setattr("nopost.knowledge.yaml_reader._LOADER", request.param)


def found(text: str) -> list[tuple[int, str]]:
    """Line and code of each problem in the text."""
    return [(p.line, p.code) for p in parse_yaml(text, "x.yaml")[1]]


# Plain scalars. JSON's grammar: RFC 8259, section 6 (numbers) and 3 (true, false, null).
@pytest.mark.usefixtures("_each_loader")
@pytest.mark.parametrize(
    ("written", "value"),
    [
        *((word, word) for word in ("no", "off", "yes", "on", "Yes", "True", "NULL", "~", "y", "Null")),
        *(
            (word, word)
            for word in ("00", "010", "0x1F", "0o17", "0b1", "55h", "1_000", "1:3:1", "12:30", "1-3-1", "+1", "0.", ".5")
        ),
        *(
            (word, word)
            for word in ("2031-05-17", "2031-05-17 10:00:00", ".inf", "-.inf", ".nan", "NaN", "Infinity", "1e999", "1e")
        ),
        ("9" * 40, "9" * 40),
        ("0", 0),
        ("-7", -7),
        ("55", 55),
        ("0.25", 0.25),
        ("1e5", 1e5),
        ("-2.5E-3", -0.0025),
        ("true", True),
        ("false", False),
        ("null", None),
        ('"null"', "null"),
        ("'55'", "55"),
        ('"00"', "00"),
        ("", ""),
        ("|-\n  5", "5"),
        (">-\n  true", "true"),
    ],
)
def test_only_json_scalars_are_more_than_text(written: str, value: Any) -> None:
    """A plain scalar is what JSON makes of it, else text."""
    document, problems = parse_yaml(f"key: {written}\n", "x.yaml")
    assert (problems, document.data) == ([], {"key": value})
    assert type(document.data["key"]) is type(value)


def test_keys_are_always_text() -> None:
    """Keys that look like something else stay words, merge keys too."""
    document, problems = parse_yaml("1: a\nno: b\nnull: c\n<<: {d: e}\n", "x.yaml")
    assert not problems
    assert document.data == {"1": "a", "no": "b", "null": "c", "<<": {"d": "e"}}


LAUGHS = "a: &a [ha, ha]\n" + "".join(
    f"{b}: &{b} [{', '.join([f'*{a}'] * 9)}]\n" for a, b in zip("abcdefgh", "bcdefghi", strict=True)
)


@pytest.mark.usefixtures("_each_loader")
@pytest.mark.parametrize(
    ("text", "line", "code"),
    [
        (LAUGHS, 1, "alias"),
        ("a: 1\nb: *a\n", 2, "alias"),
        ("a: 1\n\n# x\nb: &b {c: 1}\n", 4, "alias"),
        ("a: [1,\n &b 2]\n", 2, "alias"),
        ("&a b: 1\n", 1, "alias"),
        ("a: 1\nb: !!int 2\n", 2, "tag"),
        ("a: 1\nb: !!python/object/apply:os.system [x]\n", 2, "tag"),
        ("a:\n  - !local {}\n", 2, "tag"),
        ("!!str a: b\n", 1, "tag"),
        ("a: 1\nb: 2\na: 3\n", 3, "duplicate-key"),
        ("a:\n  - b: 1\n    c: 2\n    b: {}\n", 4, "duplicate-key"),
        ('{a: 1,\n "a": 2}\n', 2, "duplicate-key"),
        ("a: 1\n? [b]\n: 2\n", 2, "bad-key"),
        ("a: {{b: c}: d}\n", 1, "bad-key"),
        ("a: 1\n---\nb: 2\n", 2, "two-documents"),
        ("---\na: 1\n...\n\n---\nb: 2\n", 5, "two-documents"),
        ("", 1, "empty"),
        ("# nothing\n\n", 1, "empty"),
        ("a: 1\nb: c: d\n", 2, "yaml-syntax"),
        ("a:\n\tb: 1\n", 2, "yaml-syntax"),
        ("a: b\n- c\n", 2, "yaml-syntax"),
        ("a: @b\n", 1, "yaml-syntax"),
        ("a: 1\nb: %c\n", 2, "yaml-syntax"),
        ("a: 1\nb: x\x07y\n", 2, "control-character"),
        ("a: 1\nb: \x1b[31m\n", 2, "control-character"),
        ("a: 1\nb: c\x9bm\n", 2, "control-character"),
        ("a: 1\nb: c\u2028d\n", 2, "control-character"),
        ("a: b\nc: \ud800\n", 2, "control-character"),
        ("a: b\nc: \ufffe\n", 2, "control-character"),
        ('a: 1\nb: "\\e[2J"\n', 2, "control-character"),
        ('a: 1\n"\\0": 2\n', 2, "control-character"),
        ("a:\n " + "[" * 50, 2, "too-deep"),
        ("- " * 20_000, 1, "too-deep"),
        ("{a: " * 20_000, 1, "too-deep"),
    ],
)
def test_what_is_refused_has_its_line(text: str, line: int, code: str) -> None:
    """Each kind of trap is one problem at the right line."""
    assert found(text) == [(line, code)]


@pytest.mark.slow
@pytest.mark.usefixtures("_each_loader")
@pytest.mark.parametrize(
    "piece", ["[", "{", "- ", "? ", "[\n", "{a: ", "[a, ", "!a ", "&a ", "*a ", "a: ", "'a ", '"\\', "|\n", "%", "---\n"]
)
@pytest.mark.parametrize("start", ["", "a: ", "a:\n "])
def test_repeated_without_end(start: str, piece: str) -> None:
    """Ten thousand times the same: one problem, not one for each."""
    assert len(found(start + piece * 10_000)) == 1


def test_a_duplicate_names_the_line_of_the_first() -> None:
    """The message leads to both places."""
    (problem,) = parse_yaml("a:\n  b: 1\n  c: 2\n  b: 3\n", "kb/x.yaml")[1]
    assert str(problem) == "kb/x.yaml:4: duplicate-key: 'b' stands twice, first in line 2 → keep one of them"


def test_an_unclosed_bracket_names_the_line_where_it_opens() -> None:
    """The parser stops far behind the mistake."""
    (problem,) = parse_yaml("a: [1, 2\nb: 3\nc: 4\n", "x.yaml")[1]
    assert problem.message.endswith("in what begins in line 1")


def test_depth_is_counted_exactly() -> None:
    """The deepest nesting allowed, and one more."""
    assert found("[" * MAX_DEPTH + "]" * MAX_DEPTH) == []
    assert found("[" * (MAX_DEPTH + 1) + "]" * (MAX_DEPTH + 1)) == [(1, "too-deep")]


def test_values_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keys count too, and the line is that of the first value too many."""
    monkeypatch.setattr("nopost.knowledge.yaml_reader.MAX_NODES", 5)
    assert found("a: 1\nb: 2\n") == []
    assert found("a: 1\nb: 2\nc: 3\n") == [(3, "too-many-values")]


def test_every_value_has_its_line() -> None:
    """Keys, list entries and nested values; what has no line takes that of what is around it."""
    text = "# first\nid: x\nlong: >-\n  one\n  two\nlist:\n  - a\n\n  - {b: 1,\n     c: [2]}\n"
    document, _ = parse_yaml(text, "x.yaml")
    lines = {(): 2, ("long",): 3, ("list",): 6, ("list", 0): 7, ("list", 1): 9, ("list", 1, "b"): 9, ("list", 1, "c", 0): 10}
    assert {where: document.line(where) for where in lines} == lines
    assert document.line(("list", 1, "c", 0, "none", "such")) == 10
    assert document.line(("none",)) == 2


# Bytes on disk


def read(path: Path, root: Path | None = None) -> list[tuple[int, str]]:
    """Line and code of each problem in the file; data only without problems."""
    document, problems = read_yaml(path, "x.yaml", root)
    assert document.data is None or not problems
    return [(p.line, p.code) for p in problems]


@pytest.mark.parametrize(
    ("raw", "expected"),
    [
        (b"a: 1\n", []),
        (b"\xef\xbb\xbfa: 1\n", []),
        (b"a: 1\r\nb: 2\r\n", []),
        ("a: żółw 🐢\n".encode(), []),
        (b"\xef\xbb\xbf", [(1, "empty")]),
        (b"a: \0\n", [(0, "binary")]),
        ("a: 1\n".encode("utf-16"), [(0, "binary")]),
        (b"a: 1\nb: \xff\n", [(2, "encoding")]),
        (b"a: 1\n\nb: \xc3", [(3, "encoding")]),
        (b"a: \xed\xa0\x80\n", [(1, "encoding")]),
        (b"a: 1\r\nb: \x01\r\n", [(2, "control-character")]),
        (b"#" * MAX_BYTES, [(1, "empty")]),
        (b"#" * (MAX_BYTES + 1), [(0, "too-large")]),
    ],
)
def test_bytes(tmp_path: Path, raw: bytes, expected: list[tuple[int, str]]) -> None:
    """UTF-8 text with or without a mark at the start, and nothing else."""
    path = tmp_path / "x.yaml"
    path.write_bytes(raw)
    assert read(path) == expected


def test_the_mark_at_the_start_is_no_part_of_the_data(tmp_path: Path) -> None:
    """Some editors put a byte order mark in front."""
    path = tmp_path / "x.yaml"
    path.write_bytes(b"\xef\xbb\xbfa: 1\n")
    assert read_yaml(path)[0].data == {"a": 1}


def test_only_plain_files_are_opened(tmp_path: Path) -> None:
    """A pipe or a device would wait for ever or never end."""
    (tmp_path / "folder.yaml").mkdir()
    os.mkfifo(tmp_path / "pipe.yaml")
    os.symlink("/dev/zero", tmp_path / "device.yaml")
    for name in ("folder", "pipe", "device"):
        assert read(tmp_path / f"{name}.yaml") == [(0, "not-a-file")]


def test_links_stay_in_the_folder(tmp_path: Path) -> None:
    """A link may lead elsewhere in the knowledge base, not out of it, and somewhere."""
    root = tmp_path / "kb"
    (root / "causes").mkdir(parents=True)
    (tmp_path / "secret.yaml").write_text("a: 1\n")
    (root / "plain.yaml").write_text("a: 1\n")
    places = {"in": "../plain.yaml", "out": "../../secret.yaml", "away": "/etc/passwd", "gone": "none.yaml", "loop": "loop.yaml"}
    for name, target in places.items():
        os.symlink(target, root / "causes" / f"{name}.yaml")
    os.symlink(tmp_path, root / "findings")
    codes = {name: [code for _, code in read(root / "causes" / f"{name}.yaml", root)] for name in places}
    assert codes == {"in": [], "out": ["link-outside"], "away": ["link-outside"], "gone": ["no-file"], "loop": ["no-file"]}
    assert read(root / "findings" / "secret.yaml", root) == [(0, "link-outside")]


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system's reason is passed on."""

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    (tmp_path / "x.yaml").write_text("a: 1\n")
    monkeypatch.setattr(Path, "open", refuse)
    _, (problem,) = read_yaml(tmp_path / "x.yaml", "x.yaml")
    assert str(problem) == "x.yaml: unreadable: cannot be read: Permission denied → check the file's permissions"


# Anything at all

YAMLISH = st.text(alphabet="ab01:-[]{},#&*!|>'\"%@`\n \t?~.e+\\\u2028\x85\ufeff\r")
SAFE = st.characters(max_codepoint=0xFFFF, exclude_categories=("Cs", "Cc"), exclude_characters="\u2028\u2029\ufffe\uffff")
WORDS = st.text(SAFE, max_size=40)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**37), 10**37) | st.floats(allow_nan=False, allow_infinity=False) | WORDS,
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(WORDS, inner, max_size=5),
    max_leaves=20,
)


def depth(value: Any) -> int:
    """How deep lists and dicts are nested."""
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else None
    return 0 if inner is None else 1 + max(map(depth, inner), default=0)


def shape(value: Any) -> Any:
    """The value with every leaf taken away."""
    if isinstance(value, dict):
        return {key: shape(inner) for key, inner in value.items()}
    return [shape(inner) for inner in value] if isinstance(value, list) else None


@given(st.text(st.characters()) | YAMLISH)
def test_any_text_gives_data_or_problems(text: str) -> None:
    """Never an exception; what is accepted has the shape that PyYAML's plainest loader sees."""
    document, problems = parse_yaml(text, "x.yaml")
    if problems:
        assert document.data is None
        assert all(0 <= p.line <= len(text) + 1 for p in problems)
    else:
        assert shape(document.data) == shape(yaml.load(text, BASE_LOADER))


@pytest.mark.slow
@given(st.binary() | YAMLISH.map(str.encode))
def test_any_bytes_give_data_or_problems(tmp_path: Path, raw: bytes) -> None:
    """Never an exception from a file either."""
    path = tmp_path / "x.yaml"
    path.write_bytes(raw)
    read(path, tmp_path)


@pytest.mark.slow
@given(JSON, st.sampled_from([None, 1, 4]))
def test_json_is_read_as_json(value: Any, indent: int | None) -> None:
    """JSON text is YAML (YAML 1.2, section 1.3): written with escapes, it comes back equal, value and type."""
    if depth(value) <= MAX_DEPTH:
        document, problems = parse_yaml(json.dumps(value, indent=indent), "x.yaml")
        assert problems == []
        assert document.data == value
        assert json.dumps(document.data) == json.dumps(value)
