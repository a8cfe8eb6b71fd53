"""Disks that are full or may not be written to: small file systems in memory (root only), and a limit on file sizes."""

from __future__ import annotations

import contextlib
import json
import os
import resource
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

from bench import ROOT
from bench.faults.streams import proper, run
from cli.terminal import GENEROUS, Terminal, command, environment, words


class NotHere(Exception):
    """Why it cannot be tried on this system."""


@contextlib.contextmanager
def small_disk(place: Path, size: str = "1m") -> Iterator[Path]:
    """A file system of this size, gone afterwards."""
    disk = place / "disk"
    disk.mkdir(exist_ok=True)
    if os.geteuid() != 0 or shutil.which("mount") is None:
        raise NotHere("only root may mount a small file system")
    if subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(disk)], capture_output=True).returncode != 0:
        raise NotHere("this system lets nothing be mounted")
    try:
        yield disk
    finally:
        subprocess.run(["umount", "-l", str(disk)], check=True)


def fill(disk: Path) -> Path:
    """A file that takes all the room there is."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as stream, contextlib.suppress(OSError):
        while stream.write(bytes(4096)) == 4096:
            pass
    return filler


def full_session(place: Path) -> str:
    """Full in the middle, room again, full at the end."""
    with small_disk(place) as home:
        with Terminal(["diagnose", "--name", "full"], environment(home)) as at:
            at.prompt()
            at.say("1")
            filler = fill(home)
            assert "Not kept" in words(at.say("1"))
            assert len(_events(home)) == 1
            filler.unlink()
            assert "Not kept" not in words(at.say("1"))
            assert len(_events(home)) == 3
            fill(home)
            at.say("1")
            at.say("q")
            assert at.end() == 1, "exit 0 although it was not kept"
        offered = words(at.text).split("To go on from here: ")[1]
        assert offered.count("--answer") + offered.count("--tried") + offered.count("--skipped") == 4, offered
        assert len(_events(home)) == 3
    return "said at once, kept again with room, exit 1 and the command line at the end; the file is whole"


def _events(home: Path) -> list[object]:
    events: list[object] = json.loads((home / "sessions" / "full.json").read_text("utf-8"))["events"]
    return events


def full_output(place: Path) -> str:
    """Every other command that writes a file."""
    with small_disk(place) as disk:
        (place / "kb").mkdir()
        home = place / "home"
        tried = written(home, place, disk, full=True)
    return f"{tried} command lines: exit 1 and a line; nothing half written"


def written(home: Path, place: Path, disk: Path, *, full: bool) -> int:
    """Commands that write into a folder where they cannot."""
    base = Path(shutil.copytree(ROOT / "kb", place / "base"))
    log = place / "logs.jsonl"
    log.write_text('"53 55"\n' * 2000)
    old = disk / "kept.svg"
    if full:
        old.write_text("old")
        fill(disk)
    before = {path.name: path.stat().st_size for path in disk.iterdir()}
    lines = (
        ("decode", "--batch", str(log), "--out", str(disk / "o.csv")),
        ("decode", "--batch", str(log), "--out", str(disk / "o.jsonl")),
        ("board", "import", str(ROOT / "tests/firmware/release_lists/harbour-comma.csv"), "--yes", "--out", str(disk / "o.yaml")),
        ("kb", "draw", "--kb", str(base), "--out", str(disk / "o.svg")),
        ("kb", "new", str(disk / "new")),
    )
    for line in lines:
        done = run(home, *line)
        proper(done, (1, 2))
        assert done.stderr.strip(), line
    after = {path.name: path.stat().st_size for path in disk.iterdir() if not path.is_dir() or any(path.iterdir())}
    assert after == before, (before, after)
    with Terminal(["drill", "--case", "tb-slipped-screwdriver", "--name", "ab"], environment(disk)) as at:
        at.prompt()
        at.type("x\n")
        at.wait_for("Type yes:")
        at.type("yes\n")
        at.wait_for("The cause:")
        at.type("\n")
        at.end()
        assert "Not kept" in words(at.text), at.text[-600:]
        assert "Traceback" not in at.text
    with Terminal(["board", "new", "--out", str(place / "x.yaml")], environment(disk)) as at:
        at.wait_for(": ")
        at.type("TB-Full rev 1\n")
        assert at.end() == 1
        assert "Traceback" not in at.text, at.text[-800:]
    return len(lines) + 2


def no_size(place: Path) -> str:
    """No file may grow: as a quota, for users who are not root too."""

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))

    home = place / "home"
    for line, stdin in (
        (("diagnose", "--ask", "--name", "x"), "1\n1\nq\n"),
        (("decode", "--batch", "-", "--out", str(place / "o.csv")), '"53 55"\n'),
    ):
        done = subprocess.run(
            command(*line), input=stdin, text=True, capture_output=True, env=environment(home), timeout=GENEROUS, preexec_fn=limit
        )
        proper(done, (1,))
    done = subprocess.run(
        command("decode"),
        input="53 55",
        text=True,
        capture_output=True,
        env=environment(home),
        timeout=GENEROUS,
        preexec_fn=limit,
    )
    proper(done, (0,))
    return "sessions and results: exit 1 and a line; reading goes on without a cache"


def read_only(place: Path) -> str:
    """A data folder with a session in it that becomes read-only."""
    with small_disk(place) as home:
        run(home, "diagnose", "--ask", "--name", "full", stdin="1\nq\n")
        subprocess.run(["mount", "-o", "remount,ro", str(home)], check=True)
        for line in (("sessions",), ("report", "full"), ("decode",), ("codes", "list")):
            proper(run(home, *line, stdin="53 55"), (0,))
        done = run(home, "resume", "full", stdin="1\nq\n")
        proper(done, (1,))
        assert "Not kept" in words(done.stdout)
        assert "Read-only file system" in words(done.stdout)
        assert len(_events(home)) == 1
        subprocess.run(["mount", "-o", "remount,rw", str(home)], check=True)
    return "reading works; going on is told (exit 1), what was kept stands"
