"""ruamel.yaml is imported when something is written, by nothing else."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import nopost
from cli.terminal import environment

IMPORTED = """
import sys
from nopost_cli.main import main
try:
    main()
except SystemExit:
    pass
print("ruamel.yaml" in sys.modules)
"""


@pytest.mark.slow
@pytest.mark.parametrize(
    "words", ["diagnose --help", "decode 0d", "kb check --help", "kb learn --help", "board new --help", "board import --help"]
)
def test_commands_begin_without_it(words: str, tmp_path: Path) -> None:
    """It would take a tenth of a second from each of them."""
    place = Path(nopost.__file__).parents[2]
    env = {**environment(tmp_path), "PYTHONPATH": os.pathsep.join([str(place / "engine"), str(place / "cli")])}
    done = subprocess.run([sys.executable, "-c", IMPORTED, *words.split()], capture_output=True, text=True, env=env, check=True)
    assert done.stdout.splitlines()[-1] == "False"
