"""The repository itself: what lies at its top, what the README says of commands, and names that must not appear."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from nopost_cli.main import COMMANDS

ROOT = Path(__file__).resolve().parents[1]
ALLOWED = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "kb",
    "engine",
    "cli",
    "tests",
    "schemas",
    ".ci",
    ".gitignore",
    ".pre-commit-config.yaml",
    ".pre-commit-hooks.yaml",
}
SCAN = ROOT.parent / "shared" / "tools" / "name-scan"


def files_of_the_project() -> list[str]:
    """Every file that git keeps or would keep."""
    if shutil.which("git") is None or not (ROOT / ".git").exists():
        pytest.skip("no git checkout")
    found = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"], cwd=ROOT, capture_output=True, encoding="utf-8"
    )
    assert found.returncode == 0, found.stderr
    return [name for name in found.stdout.splitlines() if (ROOT / name).exists()]


@pytest.mark.parametrize("name", list(COMMANDS))
def test_command_is_documented(name: str) -> None:
    """The README shows how each command is called."""
    assert f"nopost {name}" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_top_level() -> None:
    """Nothing joins the top level by accident."""
    assert {name.split("/")[0] for name in files_of_the_project()} <= ALLOWED


def test_no_leftovers() -> None:
    """No caches, no compiled files, and no test package markers, which would break the search for tests."""
    names = files_of_the_project()
    assert [name for name in names if "__pycache__" in name or name.endswith((".pyc", ".orig", ".rej"))] == []
    assert [
        name
        for name in names
        if name.startswith("tests/") and not name.startswith("tests/bench/") and name.endswith("__init__.py")
    ] == []


def test_test_files_have_names_of_their_own() -> None:
    """Without packages two test files of one name hide each other."""
    names = [Path(name).name for name in files_of_the_project() if name.startswith("tests/") and name.endswith(".py")]
    tests = [name for name in names if name.startswith("test_")]
    assert sorted(tests) == sorted(set(tests))


@pytest.mark.skipif(not SCAN.exists(), reason="the scan lies beside the project in the workshop only")
def test_no_real_names() -> None:
    """The scan for names of makers and products prints nothing."""
    done = subprocess.run(["python3", str(SCAN)], cwd=ROOT, capture_output=True, encoding="utf-8")
    assert (done.returncode, done.stdout) == (0, ""), done.stdout
