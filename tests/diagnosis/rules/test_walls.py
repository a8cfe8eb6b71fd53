"""What the import contracts in pyproject.toml cannot say: the engine is silent, and the import of experta leaves no trace."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

import nopost

ENGINE = Path(nopost.__file__).parent
CALLS = {"input", "exit", "quit", "sys.exit", "os._exit", "breakpoint", "eval", "exec"}
"""What asks, ends the program or runs text; that it does not print is ruff's to say (T20)."""
STREAMS = {"sys.stdout", "sys.stderr", "sys.stdin"}


@pytest.mark.slow
def test_engine_is_silent() -> None:
    """It neither asks nor ends the program, and knows no terminal."""
    for path in sorted(ENGINE.rglob("*.py")):
        nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
        called = {ast.unparse(node.func) for node in nodes if isinstance(node, ast.Call)}
        used = {ast.unparse(node) for node in nodes if isinstance(node, ast.Attribute)}
        assert not called & CALLS, path
        assert not used & STREAMS, path


TRACES = """
import collections, logging, pkgutil, importlib
import nopost.diagnosis.rules.adapter
assert not hasattr(collections, "Mapping")
assert logging.root.handlers == [], logging.root.handlers
assert logging.root.level == logging.WARNING
import pytest

import nopost
import pytest
for found in pkgutil.walk_packages(nopost.__path__, "nopost."):
    importlib.import_module(found.name)
assert not hasattr(collections, "Mapping")
assert logging.root.handlers == []
"""


@pytest.mark.slow
def test_import_leaves_no_trace() -> None:
    """With warnings as errors: no alias in collections, no logging handler, and nothing on the terminal."""
    command = [sys.executable, "-W", "error", "-c", TRACES]
    env = {**os.environ, "PYTHONPATH": str(ENGINE.parent)}
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
