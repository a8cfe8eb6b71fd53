"""The table of damaged input: small runs of it, and that it sees what it is there to see."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from bench import fuzz, hostile
from bench.hostile_readers import READERS, ROOT, Reader
from nopost.errors import NopostError

ONCE = sorted(path for path in fuzz.FOUND.glob("*/*"))


@pytest.mark.slow
@pytest.mark.parametrize("name", list(READERS))
def test_a_few_damaged_inputs(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """No reader crashes or hangs; a thousand times as many run by hand: python -m tests.bench.hostile."""
    monkeypatch.setenv("NOPOST_HOME", "replaced for each run")
    found = hostile.tried(name, 40, seed=7)
    assert (found["crashes"], found["hangs"]) == ([], [])


@pytest.mark.slow
def test_crashes_and_hangs_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """A reader that breaks at one input and sleeps at another is told with both."""

    def read(data: bytes) -> bool:
        if data == b"two":
            raise ValueError("broken")
        if data == b"three":
            time.sleep(3)
        return data == b"one"

    monkeypatch.setenv("NOPOST_HOME", "replaced for each run")
    monkeypatch.setattr(hostile, "LIMIT", 1)
    monkeypatch.setattr(hostile, "READERS", {"bad": lambda folder: Reader((b"one", b"two", b"three"), read)})
    found = hostile.tried("bad", 3, seed=1)
    assert found["refused"] == 1
    assert found["crashes"] == ["input 1: ValueError: broken: b'two'"]
    assert found["hangs"] == ["input 2: b'three'"]


def test_the_same_seed_damages_alike() -> None:
    """Good inputs first, then the same damage for the same seed."""
    good = b"abc" * 40, Path(__file__).read_bytes()
    first, again = (list(hostile.damaged(good, random.Random(3), 60)) for _ in range(2))
    assert first == again
    assert tuple(first[:2]) == good
    assert len(set(first)) > 50


@pytest.mark.slow
@pytest.mark.parametrize("path", ONCE, ids=lambda path: f"{path.parent.name}-{path.name}")
def test_what_once_broke_a_reader(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every file under tests/regressions is read, or refused in an orderly way, and is named by what is in it."""
    monkeypatch.setenv("NOPOST_HOME", "replaced for each run")
    data = path.read_bytes()
    assert path.name == fuzz.name_of(data)
    assert fuzz.outcome(path.parent.name, data) == ""


def test_regressions_are_found() -> None:
    """There are some, and each is told of."""
    told = (fuzz.FOUND / "README.md").read_text(encoding="utf-8")
    assert ONCE
    assert all(f"`{path.parent.name}/{path.name}`" in told for path in ONCE)


def test_finder_keeps_one_of_each_kind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A crash is kept once for each line that raises, a hang once; our own errors and what is read are not."""

    def read(data: bytes) -> None:
        if data.startswith(b"own"):
            raise NopostError("refused")
        if data.startswith(b"crash"):
            raise ValueError("broken")
        if data.startswith(b"deep"):
            int("x")
        while data.startswith(b"hang"):
            pass

    monkeypatch.setattr(fuzz, "LIMIT", 0.2)
    finder = fuzz._Finder(read, tmp_path)
    for data in (b"good", b"own 1", b"crash 1", b"crash 2", b"deep 1", b"hang 1", b"hang 2"):
        finder(data)
    assert {path.read_bytes() for path in tmp_path.iterdir()} == {b"crash 1", b"deep 1", b"hang 1"}
    assert "ValueError at" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["xyzzy", "--again", "/none"], "no reader is called 'xyzzy'"),
        (["yaml", "--again", "/none"], "/none: No such file"),
        (["yaml"], "atheris is not installed: pip install '.[fuzz]'"),
    ],
)
def test_fuzz_refuses_in_a_line(
    words: list[str], said: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A wrong name, no file, no atheris: one line and exit code 2."""
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    assert fuzz.main(words) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1


@pytest.mark.parametrize("words", [["yaml", "--seconds", "0"], ["yaml", "--seconds", "x"], []])
def test_fuzz_wrong_usage(words: list[str]) -> None:
    """What argparse refuses ends with 2 as well."""
    with pytest.raises(SystemExit) as ended:
        fuzz.main(words)
    assert ended.value.code == 2


def test_fuzz_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """A good file is read; one that breaks the reader is told with where, and ends with 1."""
    monkeypatch.setenv("NOPOST_HOME", "replaced for each run")
    path = tmp_path / "x"
    path.write_bytes(b"id: x\n")
    assert fuzz.main(["yaml", "--again", str(path)]) == 0
    assert "refused in an orderly way" in capsys.readouterr().out

    def broken(data: bytes) -> bool:
        raise KeyError("broken")

    monkeypatch.setattr("bench.hostile_readers.READERS", {"yaml": lambda folder: Reader((), broken)})
    assert fuzz.main(["yaml", "--again", str(path)]) == 1
    assert "KeyError: 'broken'" in capsys.readouterr().out


def test_fuzz_searches(tmp_path: Path) -> None:
    """A second of search: the corpus grows beyond the good inputs, so lines that are reached lead it."""
    pytest.importorskip("atheris")
    words = [sys.executable, "-m", "tests.bench.fuzz", "smbios", "--seconds", "1", "--corpus", str(tmp_path / "corpus")]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (0, "smbios: nothing found\n"), done.stderr[-2000:]
    assert "Instrumenting nopost.firmware.smbios" in done.stderr
    assert len(list((tmp_path / "corpus").iterdir())) > 3
