"""`nopost kb new` through pipes and at a terminal."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from cli.guided_talk import leave
from cli.terminal import Terminal, plain, words

Run = Callable[..., CompletedProcess[str]]


@pytest.mark.slow
def test_copy(run: Run, tmp_path: Path) -> None:
    """A copy answers as the shipped base does, and says what comes next."""
    own = tmp_path / "own"
    done = run("kb", "new", str(own), "--name", "Ours")
    assert (done.returncode, done.stderr) == (0, "")
    assert f"nopost kb add cause --kb {own}" in words(done.stdout)
    asked = ("diagnose", "--answer", "response=nothing", "--json")
    assert run(*asked, "--kb", str(own)).returncode == 0
    assert run("kb", "check", str(own)).returncode == 0


@pytest.mark.slow
def test_empty_through_pipes(run: Run, tmp_path: Path) -> None:
    """Nothing is asked; the loader says what is still missing, in one line."""
    done = run("kb", "new", "--empty", str(tmp_path / "e"), "--name", "Bicycles")
    assert (done.returncode, done.stderr) == (0, "")
    assert "kb add finding" in done.stdout
    used = run("diagnose", "--kb", str(tmp_path / "e"), "--answer", "a=b")
    assert used.returncode == 1
    assert "no-causes: there is not one cause" in used.stderr
    assert "Traceback" not in used.stderr


@pytest.mark.slow
def test_refusals(run: Run, tmp_path: Path) -> None:
    """Over something, without a folder, under a file, with a name that no screen holds."""
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "x").write_text("mine")
    for place, code, said in (("full", 1, "is not empty"), ("full/x", 1, "is no folder"), ("full/x/y", 1, "Not a directory")):
        done = run("kb", "new", str(tmp_path / place))
        assert (done.returncode, said in done.stderr) == (code, True), done.stderr
    assert run("kb", "new").returncode == 2
    assert run("kb", "new", str(tmp_path / "n"), "--name", "x").returncode == 2
    assert not (tmp_path / "n").exists()
    assert [path.name for path in (tmp_path / "full").iterdir()] == ["x"]


@pytest.mark.slow
def test_into_an_empty_folder(run: Run, tmp_path: Path) -> None:
    """An empty folder that is there is filled."""
    (tmp_path / "e").mkdir()
    assert run("kb", "new", "--empty", str(tmp_path / "e")).returncode == 0
    assert (tmp_path / "e" / "base.yaml").is_file()


@pytest.mark.slow
@pytest.mark.parametrize("columns", [60, 200])
def test_left_in_the_middle(terminal: Callable[..., Terminal], tmp_path: Path, columns: int) -> None:
    """Ctrl-C leaves nothing behind."""
    with terminal("kb", "new", "--empty", str(tmp_path / "e"), columns=columns) as at:
        at.wait_for("Its name, as a headline")
        at.type("x\n")
        at.wait_for("3 to 100 characters")
        leave(at, "\x03", "Left.")
        assert at.end() == 130
    assert "Traceback" not in plain(at.text)
    assert not (tmp_path / "e").exists()
