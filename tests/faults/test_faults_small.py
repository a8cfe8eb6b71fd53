"""Small faults: empty names, remarks beside codes, and a few sessions killed; the large runs are `python -m
tests.bench.faults`.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from cli.terminal import ROOT, environment, nopost
from nopost.codes.readers.format_detection import read_text


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("53 55 ok", ["53", "55"]),
        ("ok 53 55", ["53", "55"]),
        ("4F stuck", ["4F"]),
        ("12 boards", []),
        ("12 34 volts", []),
        ("be ad ok", []),
    ],
)
def test_a_remark_beside_codes(text: str, codes: list[str]) -> None:
    """One foreign word beside codes does not hide them; quantities and words stay what they are. Judgement, no source."""
    assert [event.code for reading in read_text(text) for event in reading.events] == codes


@pytest.mark.slow
@pytest.mark.parametrize("words", [("decode", ""), ("decode", "--kb", ""), ("decode", "--batch", "", "--out", "o.csv")])
def test_empty_names_are_refused(tmp_path: Path, words: tuple[str, ...]) -> None:
    """An empty name is never the current folder."""
    done = nopost(*words, home=tmp_path, stdin="53")
    assert done.returncode == 2
    assert "the name is empty" in done.stderr


@pytest.mark.slow
def test_a_few_kills(tmp_path: Path) -> None:
    """The runner itself, on six sessions: nothing confirmed is lost."""
    run = [sys.executable, "-m", "tests.bench.faults", "sessions", "--sessions", "6", "--seed", "1"]
    done = subprocess.run(run, cwd=ROOT, env=environment(tmp_path), capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "FAULT" not in done.stdout
