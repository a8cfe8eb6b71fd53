"""`nopost stick` from the command line; nothing is ever written."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.terminal import words
from stick_images import SECTOR, fat, long, mbr, short

Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture
def image(tmp_path: Path) -> Path:
    """A stick whose file has one ending too many."""
    folder = long("TBBX1.ROM.txt", "TBBX1R~1TXT", size=1024, cluster=9) + short("BAD\x1b[2JX ROM")
    volume = fat(70000, folder, {9: 10, 10: 0x0FFFFFFF})
    path = tmp_path / "stick.img"
    path.write_bytes(mbr((0x0C, 64, len(volume) // SECTOR)).ljust(64 * SECTOR, b"\0") + volume)
    return path


def test_screen(run: Run, image: Path) -> None:
    """What is there, what to fix, and the end; the names on the stick cannot control the terminal."""
    before = hashlib.sha256(image.read_bytes()).digest(), os.stat(image).st_mtime_ns
    done = run("stick", str(image), "--board", "tb-breakwater-x1")
    assert (done.returncode, done.stderr) == (0, "")
    assert "\x1b" not in done.stdout
    shown = words(done.stdout)
    assert "MBR, 1 partition" in shown
    assert "rename it to “TBBX1.ROM”, letter for letter" in shown
    assert "Partition 1 is FAT32" in shown
    assert "Not ready: 2 to fix" in shown
    assert (hashlib.sha256(image.read_bytes()).digest(), os.stat(image).st_mtime_ns) == before


@pytest.mark.slow
def test_json(run: Run, image: Path) -> None:
    """The same for programs."""
    done = run("stick", str(image), "--file", "TBBX1.ROM.txt", "--json")
    found = json.loads(done.stdout)
    assert (found["format"], found["version"], found["verdict"]) == ("nopost-stick", 1, "fix")
    assert found["stick"]["volumes"][0]["file_system"]["kind"] == "FAT32"
    assert {remark["code"] for remark in found["remarks"]} >= {"name", "too-small"}


@pytest.mark.slow
def test_refused(run: Run, image: Path, tmp_path: Path) -> None:
    """Nothing there, an unknown board, and what is no medium: one line each."""
    assert run("stick", str(tmp_path / "none")).returncode == 2
    done = run("stick", str(image), "--board", "tb-breakwater-x2")
    assert (done.returncode, "did you mean tb-breakwater-x1" in done.stderr) == (1, True)
    done = run("stick", os.devnull)
    assert (done.returncode, "neither a folder nor an image" in words(done.stderr)) == (1, True)
