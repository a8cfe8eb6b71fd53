"""Fixtures of the command line: processes with a data folder of their own and one shared cache."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.terminal import Terminal, environment, nopost, warm_cache

Result = subprocess.CompletedProcess[str]


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of this test alone; only what can be computed again is shared."""
    folder = tmp_path / "home"
    folder.mkdir()
    (folder / "cache").symlink_to(warm_cache())
    monkeypatch.setenv("NOPOST_HOME", str(folder))
    return folder


@pytest.fixture
def run(home: Path) -> Callable[..., Result]:
    """Run nopost through pipes: run("diagnose", ..., stdin="...", env={...})."""

    def start(*words: str, stdin: str = "", env: dict[str, str] | None = None) -> Result:
        return nopost(*words, home=home, stdin=stdin, env=env)

    return start


@pytest.fixture
def terminal(home: Path) -> Callable[..., Terminal]:
    """Run nopost at a terminal: with terminal("diagnose", columns=60, env={...}) as t.

    A dialogue is begun at its first step; `there`: at the screen of what is there.
    """

    def start(*words: str, columns: int = 100, env: dict[str, str] | None = None, there: bool = False) -> Terminal:
        begun = Terminal(words, environment(home, **(env or {})), columns)
        if words[:1] == ("diagnose",) and not there:
            begun.past("What is there")
        return begun

    return start
