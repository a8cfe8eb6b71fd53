"""The table of damaged input: small runs of it, and that it sees what it is there to see."""

from __future__ import annotations

import random
import time
from pathlib import Path

import pytest
from bench import hostile
from bench.hostile_readers import READERS, Reader


@pytest.mark.parametrize("name", list(READERS))
def test_a_few_damaged_inputs(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """No reader crashes or hangs; a thousand times as many run by hand: python -m bench.hostile."""
    monkeypatch.setenv("NOPOST_HOME", "replaced for each run")
    found = hostile.tried(name, 40, seed=7)
    assert (found["crashes"], found["hangs"]) == ([], [])


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
