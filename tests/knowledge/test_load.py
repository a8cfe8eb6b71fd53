"""Loading: the cache, and that no spoiled file can do more than be reported."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nopost import loading
from nopost.diagnosis.belief.evidence import Observations, Report
from nopost.diagnosis.diagnose import Diagnostician
from nopost.errors import KnowledgeError
from nopost.knowledge.edit.item_files import item_path, names_taken
from nopost.knowledge.model import Knowledge
from nopost.knowledge.yaml_reader import read_yaml
from nopost.linting.runner import examine
from nopost.loading import load_knowledge


def kept(home: Path) -> list[Path]:
    """The files in the cache."""
    return sorted((home / "cache").glob("*.json"))


def test_a_second_load_comes_from_the_cache(good_kb: Path, home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Equal to the first, with the same digest, and no file is read again."""
    first = load_knowledge(good_kb)
    assert [path.name for path in kept(home)] == [f"knowledge-{first.digest}.json"]
    monkeypatch.setattr("nopost.linting.runner.examine", lambda _: pytest.fail("read again"))
    assert load_knowledge(good_kb) == first


def test_cached_or_not_is_the_same(good_kb: Path, home: Path) -> None:
    """Without the cache nothing is written, and the result is equal."""
    plain = load_knowledge(good_kb, cached=False)
    assert not home.exists()
    assert load_knowledge(good_kb) == plain == load_knowledge(good_kb)


def test_a_changed_byte_is_another_edition(good_kb: Path) -> None:
    """The digest covers each file's bytes and names, and only those that are read."""
    before = load_knowledge(good_kb)
    base, cause = good_kb / "base.yaml", good_kb / "causes" / "loose-plug.yaml"
    base.write_bytes(base.read_bytes().replace(b"tiny", b"Tiny"))
    changed = load_knowledge(good_kb)
    assert (before.base.name, changed.base.name) == ("A tiny knowledge base", "A Tiny knowledge base")
    cause.write_bytes(cause.read_bytes().replace(b"weight: 10", b"weight: 11"))
    again = load_knowledge(good_kb)
    assert again.causes["loose-plug"].weight == 11
    (good_kb / ".hidden").write_text("x")
    assert load_knowledge(good_kb).digest == again.digest
    assert len({before.digest, changed.digest, again.digest}) == 3


@pytest.mark.parametrize("room", loading.CODE, ids=lambda room: room.name)
def test_a_changed_check_or_reader_is_another_edition(good_kb: Path, tmp_path: Path, room: Path, monkeypatch: Any) -> None:
    """What an older reader or check passed does not count when its file has changed."""
    copies = [Path(shutil.copytree(place, tmp_path / place.name)) for place in loading.CODE]
    monkeypatch.setattr(loading, "CODE", copies)
    before = loading.digest_of(good_kb)
    for path in sorted((tmp_path / room.name).glob("*.py")):
        text = path.read_text(encoding="utf-8")
        path.write_text(f"{text}# changed\n", encoding="utf-8")
        assert loading.digest_of(good_kb) != before, path
        path.write_text(text, encoding="utf-8")
    assert loading.digest_of(good_kb) == before


START = """
import sys
from pathlib import Path
import nopost.loading
nopost.loading.load_knowledge(Path(sys.argv[1]))
slow = ("jsonschema", "yaml", "numpy", "experta", "networkx", "nopost.linting", "nopost.diagnosis")
print([name for name in slow if name in sys.modules])
"""


def test_a_cached_load_imports_no_reader_and_no_check(good_kb: Path) -> None:
    """Every command begins with it: neither the schemas nor the checks nor the mathematics are needed."""
    load_knowledge(good_kb)
    env = {**os.environ, "PYTHONPATH": str(Path(loading.__file__).parents[1])}
    run = subprocess.run([sys.executable, "-c", START, str(good_kb)], capture_output=True, text=True, env=env, check=True)
    assert run.stdout == "[]\n"


def test_a_moved_file_is_another_edition(good_kb: Path) -> None:
    """The same bytes under another name or in another folder are no longer the same knowledge."""
    digests = {loading.digest_of(good_kb)}
    for old, new in (("hazards/shock.yaml", "hazards/shook.yaml"), ("hazards/shook.yaml", "cpus/shook.yaml")):
        (good_kb / old).rename(good_kb / new)
        digests.add(loading.digest_of(good_kb))
    assert len(digests) == 3


def test_items_may_lie_in_folders_by_part(good_kb: Path) -> None:
    """Read as if they lay flat; what lies there is watched."""
    flat = load_knowledge(good_kb)
    folder = good_kb / "causes" / "mains"
    folder.mkdir()
    shutil.move(good_kb / "causes" / "loose-plug.yaml", folder / "loose-plug.yaml")
    sorted_in = load_knowledge(good_kb)
    assert sorted_in.causes == flat.causes
    assert sorted_in.digest != flat.digest
    text = (folder / "loose-plug.yaml").read_bytes()
    (folder / "loose-plug.yaml").write_bytes(text.replace(b"weight: 10", b"weight: 11"))
    assert load_knowledge(good_kb).causes["loose-plug"].weight == 11
    assert item_path(good_kb, "cause", "loose-plug") == folder / "loose-plug.yaml"
    assert "loose-plug" in names_taken(good_kb, "cause")


def test_a_linked_folder_is_watched(good_kb: Path) -> None:
    """A change behind a link inside the knowledge base is seen."""
    (good_kb / "causes").rename(good_kb / ".causes")
    os.symlink(".causes", good_kb / "causes")
    before = load_knowledge(good_kb)
    path = good_kb / ".causes" / "loose-plug.yaml"
    path.write_bytes(path.read_bytes().replace(b"weight: 10", b"weight: 12"))
    assert before.causes["loose-plug"].weight == 10
    assert load_knowledge(good_kb).causes["loose-plug"].weight == 12


def test_what_is_not_read_is_not_looked_into(good_kb: Path, tmp_path: Path) -> None:
    """Neither the target of a link that leaves the folder, which may be anything, nor files with other endings."""
    outside = tmp_path / "outside.yaml"
    outside.write_text("id: one\n")
    (good_kb / "causes" / "link.yaml").symlink_to(outside)
    (good_kb / "notes.txt").write_text("one\n")
    before = loading.digest_of(good_kb)
    outside.write_text("id: two\n")
    (good_kb / "notes.txt").write_text("two\n")
    assert loading.digest_of(good_kb) == before


@pytest.mark.slow
@pytest.mark.parametrize(
    "damage",
    [
        lambda text: text[: len(text) // 2],
        lambda text: "",
        lambda text: "\0\0\0",
        lambda text: "[]",
        lambda text: '"text"',
        lambda text: "{}",
        lambda text: "[" * 200_000,
        lambda text: json.dumps(json.loads(text) | {"findings": []}),
        lambda text: json.dumps(json.loads(text) | {"base": 5}),
        lambda text: json.dumps(json.loads(text) | {"causes": {"loose-plug": None}}),
        lambda text: json.dumps(json.loads(text) | {"rules": {"r": {"id": "r"}}}),
        lambda text: text.replace('"open-question"', '"open-window"'),
        lambda text: text.replace('"twitches"', "3", 1).replace('{"open-question": "voltage"}', "{}"),
    ],
)
def test_a_damaged_cache_is_ignored(good_kb: Path, home: Path, damage: Any) -> None:
    """Whatever lies there, the knowledge is right, and the cache is whole again."""
    first = load_knowledge(good_kb)
    (path,) = kept(home)
    whole = path.read_text()
    path.write_text(damage(whole))
    assert load_knowledge(good_kb) == first
    assert path.read_text() == whole


def test_a_cache_that_is_no_text_is_ignored(good_kb: Path, home: Path) -> None:
    """Bytes that are not UTF-8."""
    first = load_knowledge(good_kb)
    kept(home)[0].write_bytes(b'{"base": "\xff"}')
    assert load_knowledge(good_kb) == first


def test_a_cache_that_cannot_be_written(good_kb: Path, home: Path) -> None:
    """A file stands where the folder should be: everything works, only not faster."""
    home.write_text("a file\n")
    assert load_knowledge(good_kb) == load_knowledge(good_kb, cached=False)
    assert home.read_text() == "a file\n"


def test_a_folder_where_the_cached_file_should_be(good_kb: Path, home: Path) -> None:
    """It is left alone."""
    (home / "cache" / f"knowledge-{loading.digest_of(good_kb)}.json").mkdir(parents=True)
    assert load_knowledge(good_kb).causes


def test_old_editions_are_forgotten(good_kb: Path, home: Path) -> None:
    """Only the last few stay."""
    base = good_kb / "base.yaml"
    text = base.read_text()
    for edition in range(loading.EDITIONS_KEPT + 3):
        base.write_text(text.replace('edition: "1"', f'edition: "{edition}"'))
        load_knowledge(good_kb)
    assert len(kept(home)) == loading.EDITIONS_KEPT


def test_problems_are_not_cached(good_kb: Path, home: Path) -> None:
    """What was refused once is looked at again."""
    (good_kb / "hazards" / "stray.txt").write_text("x")
    with pytest.raises(KnowledgeError):
        load_knowledge(good_kb)
    assert not kept(home)


# Spoiled at random


def paths(value: Any, where: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Where each value inside stands."""
    yield where
    for key, inner in value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ():
        yield from paths(inner, (*where, key))


def replaced(value: Any, where: tuple[Any, ...], new: Any) -> Any:
    """A copy with another value at that place."""
    if not where:
        return new
    copy: Any = dict(value) if isinstance(value, dict) else list(value)
    copy[where[0]] = replaced(value[where[0]], where[1:], new)
    return copy


ODD: list[Any] = [None, True, False, 0, 1, -1, 0.5, 1e300, 10**30, "", "x", "fan", "still", "unknown", "absent", "history"]
ODD += ["shock", [], {}, ["fan"], {"fan": 1}, {"still": 1}, {"turns": 1e-300, "still": 1.0}, {"all": []}]


def use(knowledge: Knowledge) -> None:
    """Give each finding its last answer; the belief stays a distribution."""
    answers = tuple(Report(finding.id, finding.answer_ids[-1]) for finding in knowledge.findings.values())
    diagnostician = Diagnostician(knowledge)
    for seen in (Observations(), Observations(answers[:1]), Observations(answers)):
        assessment = diagnostician.assess(seen)
        assert abs(assessment.posterior.sum() - 1) < 1e-9


@pytest.mark.slow
@settings(max_examples=200)
@given(st.data())
def test_an_odd_value_anywhere_is_reported_or_harmless(good_kb: Path, data: st.DataObject) -> None:
    """One value replaced by another: problems, or a knowledge base that can be used."""
    files = sorted(good_kb.rglob("*.yaml"))
    path = data.draw(st.sampled_from(files), label="file")
    before = path.read_bytes()
    document, _ = read_yaml(path)
    where = data.draw(st.sampled_from(list(paths(document.data))), label="place")
    try:
        path.write_text(json.dumps(replaced(document.data, where, data.draw(st.sampled_from(ODD), label="value"))))
        if not examine(good_kb)[1]:
            use(load_knowledge(good_kb, cached=False))
    finally:
        path.write_bytes(before)


@pytest.mark.slow
@settings(max_examples=100)
@given(st.data())
def test_an_odd_byte_anywhere_is_reported_or_harmless(good_kb: Path, data: st.DataObject) -> None:
    """One byte put in somewhere: never an exception."""
    path = data.draw(st.sampled_from(sorted(good_kb.rglob("*.yaml"))), label="file")
    before = path.read_bytes()
    at = data.draw(st.integers(0, len(before)), label="place")
    byte = data.draw(st.sampled_from(b"\0\t\n -:#'\"{}[],&*!|>%@`?~0aZ\x1b\x80\xff"), label="byte")
    try:
        path.write_bytes(before[:at] + bytes([byte]) + before[at:])
        examine(good_kb)
    finally:
        path.write_bytes(before)
