"""`nopost kb export` through the real entry point. What the file holds is tested in tests/belief/test_bif.py."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from cli.terminal import nopost


def run(home: Path, *args: str) -> subprocess.CompletedProcess[str]:
    """`nopost kb export` with these words."""
    return nopost("kb", "export", *args, home=home)


@pytest.mark.slow
def test_file_and_pipe_hold_the_same(tmp_path: Path) -> None:
    """Written or printed; a file that is there is not written over unasked."""
    out = tmp_path / "network.bif"
    done = run(tmp_path, "--bif", str(out))
    assert (done.returncode, done.stderr) == (0, "")
    assert "causes" in done.stdout
    assert run(tmp_path, "--bif", "-").stdout == out.read_text(encoding="ascii")
    refused = run(tmp_path, "--bif", str(out))
    assert (refused.returncode, "is there already" in refused.stderr) == (1, True)
    assert run(tmp_path, "--bif", str(out), "--force").returncode == 0


@pytest.mark.slow
def test_where_nothing_can_be_written(tmp_path: Path) -> None:
    """One clear line."""
    done = run(tmp_path, "--bif", str(tmp_path / "nowhere" / "network.bif"))
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert "nowhere" in done.stderr
