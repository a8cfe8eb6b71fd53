"""One canonical form: every shipped file and every file that a program writes has it, and nothing is lost on the way to it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.errors import KnowledgeError, OutputError
from nopost.knowledge.edit.canonical_yaml import WIDTH, read_tree, write_tree
from nopost.knowledge.edit.change_yaml import canonical_text
from nopost.knowledge.edit.new_base import NewBase, copied_files, empty_files
from nopost.knowledge.yaml_reader import parse_yaml

KB = Path(__file__).resolve().parents[3] / "kb"


@pytest.mark.slow
@pytest.mark.parametrize("folder", ["", *sorted(path.name for path in KB.iterdir() if path.is_dir())])
def test_shipped_files_are_canonical(folder: str) -> None:
    """Byte for byte, every file: read by ruamel.yaml with its comments, quotes and folds, and written again."""
    files = sorted((KB / folder).rglob("*.yaml"))
    assert files
    for path in files:
        raw = path.read_bytes()
        assert write_tree(read_tree(raw.decode())).encode() == raw, path
        assert max(map(len, raw.decode().splitlines())) <= WIDTH, path


@pytest.mark.parametrize("name", ["", "What stops our machines: a list"])
def test_new_bases_are_canonical(name: str) -> None:
    """Those that `kb new` writes, with the comments in them."""
    files = empty_files(NewBase(name=name)) if name else empty_files(NewBase())
    base = files["base.yaml"].decode()
    assert canonical_text(base) == base
    copied = copied_files(name)
    for path in ("base.yaml", next(path for path in copied if path.startswith("causes/"))):
        assert canonical_text(copied[path].decode()) == copied[path].decode()


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("a: &x 1\nb: *x\n", "alias"),
        ("a: !!str 1\n", "tag"),
        ("a: 1\na: 2\n", "duplicate-key"),
        ("a: 1\n---\nb: 2\n", "two-documents"),
        ("a: [1\n", "yaml-syntax"),
        ("a: \u202e1\n", "control-character"),
        ("", "empty"),
    ],
)
def test_what_the_reader_refuses_is_not_changed(text: str, code: str) -> None:
    """The same problem, with its line."""
    with pytest.raises(KnowledgeError) as found:
        canonical_text(text, "x.yaml")
    assert [(problem.path, problem.code) for problem in found.value.problems] == [("x.yaml", code)]


@pytest.mark.parametrize("text", ["a: {\n  x: 1,  # one\n  y: 2\n}\n", "a: [x,  # one\n  y]\n"])
def test_comments_between_braces_are_refused(text: str) -> None:
    """ruamel.yaml would drop them."""
    with pytest.raises(OutputError, match="cannot be changed by a program: it has a comment between braces"):
        canonical_text(text, "x.yaml")


@pytest.mark.parametrize(
    ("text", "canonical"),
    [
        ("a:   1 # one\nb:\n- x\n-   y: 1\n    z: 2\n", "a: 1   # one\nb:\n  - x\n  - y: 1\n    z: 2\n"),
        ("\n\na: 1 # one\n", "a: 1  # one\n"),
        ("n: [1.50, 1e5, 0x1F, 00, 1_000, .5, no, ~, 2031-05-17]\n",) * 2,
        ("# first\n\na: 'one'\n\n\nb: \"two\"  # second\n# third\n",) * 2,
        ("a: >-\n  folded\n  here\nb: |\n  # no comment\n  kept\n",) * 2,
        (f"a: {'word ' * 30}end\n", f"a: >-\n  {'word ' * 20}".rstrip() + f"\n  {'word ' * 10}end\n"),
        (f"a: {'word ' * 30}end  # why\n",) * 2,
        (f"a: {{x: {'y' * 70}, z: {'y' * 70}}} # why\n", f"a:  # why\n  x: {'y' * 70}\n  z: {'y' * 70}\n"),
    ],
)
def test_form(text: str, canonical: str) -> None:
    """Spaces are set right, long lines broken; spelling, quotes, comments, blank lines and folds stay."""
    assert canonical_text(text) == canonical
    assert canonical_text(canonical) == canonical


PIECES = [
    *(
        "a: 1\n",
        "b:\n",
        "  c: {x: 1, y: [p, q]}\n",
        "  d: 'it''s'\n",
        "  - e\n",
        "  - f: 1\n    g: 2\n",
        "# h\n",
        "  # i\n",
        "\n",
    ),
    *("j: >-\n  k\n  l\n", f"m: {'n ' * 90}o\n", "  p: 1  # q\n", "r: |\n  s\n\n", "t: []\n", "u: {}  # v\n", 'w: "x"\n'),
]


@pytest.mark.slow
@given(st.lists(st.sampled_from(PIECES), max_size=8))
def test_nothing_is_lost(pieces: list[str]) -> None:
    """Whatever the reader reads is the same data afterwards, with the same comments, and canonical; or it is refused."""
    text = "".join(pieces)
    document, problems = parse_yaml(text, "x")
    if problems:
        return
    try:
        new = canonical_text(text)
    except OutputError:
        return
    assert parse_yaml(new, "x")[0].data == document.data
    assert canonical_text(new) == new
    old_comments, new_comments = ([line.partition("#")[2] for line in t.splitlines() if "#" in line] for t in (text, new))
    assert new_comments == old_comments
