"""Walls between the rooms: who may import whom, who prints, and that the old engine leaves no trace."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import nopost
import nopost_cli

ROOMS = {
    "knowledge": 0,
    "codes": 1,
    "rules": 1,
    "belief": 1,
    "meter": 1,
    "authoring": 1,
    "advice": 2,
    "firmware": 2,
    "review": 2,
    "cases": 3,
    "trial": 4,
    "charts": 4,
    "drill": 5,
    "nopost_cli": 6,
}
"""Room -> its place on the one way. A module imports its own room, lower rooms and the modules of no room (paths, errors ...)."""
ENGINE, CLI = Path(nopost.__file__).parent, Path(str(nopost_cli.__file__)).parent
FILES = sorted([*ENGINE.rglob("*.py"), *CLI.rglob("*.py")])
IN_ENGINE = [path for path in FILES if ENGINE in path.parents]


def name(path: Path) -> str:
    """How a test of this file is called."""
    return "/".join(path.parts[-2:])


def imports(tree: ast.AST) -> Iterator[str]:
    """Every module that is imported, wherever in the file."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "absolute imports only"
            yield str(node.module)
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def room(module: str) -> str:
    """Room of a module of ours; empty for a module of no room."""
    parts = module.split(".")
    if parts[0] == "nopost_cli":
        return "nopost_cli"
    inside = len(parts) > 1 and (ENGINE / parts[1]).is_dir()
    return parts[1] if parts[0] == "nopost" and inside else ""


def parse(path: Path) -> ast.Module:
    """Its syntax tree."""
    return ast.parse(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", FILES, ids=name)
def test_imports_go_one_way(path: Path) -> None:
    """knowledge, then rules and belief, then advice and firmware, then cases, then the command line."""
    top = ENGINE.parent if path in IN_ENGINE else CLI.parent
    own = room(".".join(path.relative_to(top).with_suffix("").parts))
    for other in {room(module) for module in imports(parse(path))} - {"", own}:
        if own:
            assert ROOMS[other] < ROOMS[own], f"{own} imports {other}"
        else:
            assert ROOMS[other] == 0, f"a module of no room imports {other}"


@pytest.mark.parametrize("path", FILES, ids=name)
def test_only_the_adapter_knows_experta(path: Path) -> None:
    """Nor its dependencies."""
    used = {module.split(".")[0] for module in imports(parse(path))} & {"experta", "frozendict", "schema"}
    assert used == ({"experta", "frozendict"} if path.name == "adapter.py" else set())


@pytest.mark.parametrize("path", IN_ENGINE, ids=name)
def test_engine_is_silent(path: Path) -> None:
    """It neither prints nor asks nor ends the program, and knows no terminal."""
    tree = parse(path)
    assert not {module.split(".")[0] for module in imports(tree)} & {"click", "rich", "nopost_cli", "pickle"}
    called = {ast.unparse(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
    assert not called & {"print", "input", "exit", "quit", "sys.exit", "os._exit", "breakpoint", "eval", "exec"}
    assert not {ast.unparse(n) for n in ast.walk(tree) if isinstance(n, ast.Attribute)} & {
        "sys.stdout",
        "sys.stderr",
        "sys.stdin",
    }


TRACES = """
import collections, logging, pkgutil, importlib
import nopost.diagnosis.rules.adapter
assert not hasattr(collections, "Mapping")
assert logging.root.handlers == [], logging.root.handlers
assert logging.root.level == logging.WARNING
import nopost
for found in pkgutil.walk_packages(nopost.__path__, "nopost."):
    importlib.import_module(found.name)
assert not hasattr(collections, "Mapping")
assert logging.root.handlers == []
"""


def test_import_leaves_no_trace() -> None:
    """With warnings as errors: no alias in collections, no logging handler, and nothing on the terminal."""
    folders = os.pathsep.join(str(folder) for folder in (ENGINE.parent, CLI.parent))
    command = [sys.executable, "-W", "error", "-c", TRACES]
    done = subprocess.run(command, env={**os.environ, "PYTHONPATH": folders}, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
