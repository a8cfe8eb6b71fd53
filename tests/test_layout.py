"""The repository itself: what lies at its top, what the README says of commands, and names that must not appear."""

from __future__ import annotations

import ast
import re
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
PAGES = (
    "README.md",
    "DEVELOPERS.md",
    "cli/manual/trainer.md",
    "cli/manual/knowledge.md",
    "cli/manual/model.md",
    "tests/real/README.md",
)
PLACES = ("kb/", "schemas/", "engine/", "cli/", "tests/", ".ci/")
TO_BE_MADE = {"kb/causes/dust-in-memory-slot.yaml", "cli/nopost_cli/cautions.py", "kb/boards/my-board.yaml"}
"""Files that a recipe has its reader make."""
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


def test_developers_page_stays_short() -> None:
    """Twelve kB at most: what is longer belongs into the manual or into a package's docstring."""
    assert (ROOT / "DEVELOPERS.md").stat().st_size <= 12_000


@pytest.mark.parametrize("page", PAGES)
def test_pages_name_what_is_there(page: str) -> None:
    """Every path in backticks and every link to a file of ours leads somewhere; so does the part of a page behind #."""
    text = (ROOT / page).read_text(encoding="utf-8")
    named = {
        name for name in re.findall(r"`([^`\s]+)`", text) if name.startswith(PLACES) and not re.search(r"[<>A-Z]{3}|[<*]", name)
    }
    assert [name for name in sorted(named - TO_BE_MADE) if not (ROOT / name).exists()] == []
    for target, part in re.findall(r"\]\((?!https?:)([^)#]*)(?:#([^)]*))?\)", text):
        linked = (ROOT / page).parent / target if target else ROOT / page
        assert linked.exists(), target
        titles = re.findall(r"^#+ (.*)$", linked.read_text(encoding="utf-8"), re.MULTILINE) if part else []
        assert part in {"", *(re.sub(r"[^\w -]", "", title.lower()).replace(" ", "-") for title in titles)}, part


def packages_of_rooms() -> list[Path]:
    """The packages of the engine, but the top one, whose rooms DEVELOPERS.md names."""
    return sorted(path.parent for path in (ROOT / "engine" / "nopost").glob("*/**/__init__.py"))


@pytest.mark.parametrize("package", packages_of_rooms(), ids=lambda path: path.relative_to(ROOT / "engine").as_posix())
def test_package_names_its_modules(package: Path) -> None:
    """The docstring of a room says of each module what it is for, so nobody has to open them all."""
    told = ast.get_docstring(ast.parse((package / "__init__.py").read_text(encoding="utf-8"))) or ""
    inside = [path for path in package.iterdir() if path.suffix == ".py" or (path / "__init__.py").exists()]
    assert [path.stem for path in sorted(inside) if path.stem != "__init__" and path.stem not in told] == []


@pytest.mark.parametrize("package", packages_of_rooms(), ids=lambda path: path.relative_to(ROOT / "engine").as_posix())
def test_package_names_no_module_that_is_gone(package: Path) -> None:
    """What its docstring names in two words or more is a module of the engine, or stands in the room's own code."""
    told = ast.get_docstring(ast.parse((package / "__init__.py").read_text(encoding="utf-8"))) or ""
    modules = {path.stem for path in (ROOT / "engine").rglob("*.py")}
    code = "".join(path.read_text(encoding="utf-8") for path in package.rglob("*.py") if path != package / "__init__.py")
    named = set(re.findall(r"`([a-z]+(?:_[a-z]+)+)`", told))
    assert [name for name in sorted(named - modules) if not re.search(rf"\b{name}\b", code)] == []


def test_rooms_are_on_the_map() -> None:
    """DEVELOPERS.md has a place for each room."""
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rooms = {path.name for path in (ROOT / "engine" / "nopost").iterdir() if (path / "__init__.py").exists()}
    assert [room for room in sorted(rooms) if f"{room}/`" not in page] == []


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


@pytest.mark.slow
@pytest.mark.skipif(not SCAN.exists(), reason="the scan lies beside the project in the workshop only")
def test_no_real_names() -> None:
    """The scan for names of makers and products prints nothing."""
    done = subprocess.run(["python3", str(SCAN)], cwd=ROOT, capture_output=True, encoding="utf-8")
    assert (done.returncode, done.stdout) == (0, ""), done.stdout
