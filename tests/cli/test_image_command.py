"""`nopost image`: what it shows, and what it refuses."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.terminal import words
from firmware import images

Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.mark.slow
def test_shown(run: Run, tmp_path: Path) -> None:
    """A capsule with a whole chip inside, made for a sibling; the same as JSON."""
    path = tmp_path / "image.cap"
    path.write_bytes(images.capsule(images.flash([images.volume([images.file(images.text("TB-Mooring D7L", wide=True))])])))
    done = run("image", str(path), "--board", "tb-mooring-d7", "--release", "D-07")
    assert (done.returncode, done.stderr) == (0, "")
    told = words(done.stdout)
    assert "Verdict made for another variant: it names “TB-Mooring D7L”, and nowhere TB-Mooring D7 rev 1.0." in told
    for part in ("header 28 of", "starts a reset", "descriptor at 0x1c, for 1 MiB of flash in 1 chip", "FFS2, 1 file", "Padding"):
        assert part in told
    data = json.loads(run("image", str(path), "--board", "tb-mooring-d7", "--json").stdout)
    assert (data["format"], data["version"], data["fit"], data["release"]) == (
        "nopost-image",
        1,
        "made for another variant",
        None,
    )
    assert [(name["text"], name["whose"], name["listed"]) for name in data["names"]] == [
        ("TB-Mooring D7L", "another variant", True)
    ]
    assert len(data["image"]["volumes"]) == len(data["image"]["capsules"]) == 1


def test_without_record(run: Run, tmp_path: Path) -> None:
    """It says what it is, and how to learn more; a file's name cannot control the terminal."""
    path = tmp_path / "na\x1bme.bin"
    path.write_bytes(b"\xff" * 3000)
    told = words(run("image", str(path)).stdout)
    assert "\x1b" not in told
    assert "It is blank" in told
    assert "with --board it is compared with a board record." in told


@pytest.mark.slow
def test_refused(run: Run, tmp_path: Path) -> None:
    """One line each."""
    path = tmp_path / "image.bin"
    path.write_bytes(images.volume())
    for options, told in (
        ((str(tmp_path / "none"),), "cannot be read"),
        ((str(tmp_path),), "cannot be read"),
        ((str(path), "--release", "D-07"), "--board"),
        ((str(path), "--board", "tb-mooring-d7", "--release", "D-08"), "D-07"),
        ((str(path), "--board", "tb-mooring-d8"), "tb-mooring-d7"),
    ):
        done = run("image", *options)
        assert (done.returncode, done.stdout) == (1, "")
        assert told in words(done.stderr)
        assert len(done.stderr.splitlines()) == 1


MEASURE = """
import sys
from nopost_cli.main import main
sys.argv = ["nopost", "image", *sys.argv[1:]]
try:
    main()
finally:
    status = open("/proc/self/status").read().split()  # rusage would count what the parent of this process took too
    print(status[status.index("VmHWM:") + 1], file=sys.stderr)
"""


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no such file on this system")
def test_memory(tmp_path: Path) -> None:
    """A file of 64 MiB, full of volumes, names and packed files, takes less than 256 MiB of memory in all."""
    name = images.file(images.text("TB-Mooring D7L") + bytes(3000), kind=0x02)
    piece = images.volume([name, images.file(images.guided(b"inside"), kind=0x07)])
    path = tmp_path / "large.bin"
    path.write_bytes((piece * ((64 << 20) // len(piece))).ljust(64 << 20, b"\xff"))
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, str(path), "--board", "tb-mooring-d7"], capture_output=True, encoding="utf-8", check=True
    )
    assert "Verdict" in done.stdout
    most = int(done.stderr.split()[-1]) * 1024
    assert 64 << 20 < most < 256 << 20
