"""`nopost decode --batch` as a process: results, tables, broken logs, interrupts, a full disk, a terminal."""

from __future__ import annotations

import csv
import json
import os
import resource
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cli.terminal import Terminal, command, environment, nopost, words

Run = Callable[..., "subprocess.CompletedProcess[str]"]

MEMORY = "10 11 1D 1E 1F 20 21 50"
"""A course of edk2 codes that ends with an error of the memory; the choice of codes is invented."""


def rows(path: Path) -> list[dict[str, Any]]:
    """Those of a JSONL result."""
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    """A folder with two logs to read and one without any sign."""
    folder = tmp_path / "logs"
    folder.mkdir()
    (folder / "a.txt").write_text(MEMORY)
    (folder / "b.txt").write_text("memory lamp on")
    (folder / "c.txt").write_text("quiet")
    (folder / "out").symlink_to("/etc/hostname")
    return folder


@pytest.mark.slow
def test_folder(run: Run, logs: Path, tmp_path: Path) -> None:
    """Rows in the file, outcomes and leading causes on the screen."""
    out = tmp_path / "out.jsonl"
    done = run("decode", "--batch", str(logs), "--out", str(out))
    assert (done.returncode, done.stderr) == (0, "")
    assert [(row["name"], row["stage"]) for row in rows(out)] == [("a.txt", "memory"), ("b.txt", "memory"), ("c.txt", None)]
    told = words(done.stdout)
    assert "Outcome 2 67 % Stalled 1 33 % Not read" in told
    assert "Cause that leads, where a fault shows" in told
    assert "c.txt: no codes, lamps, beeps or states were found" in told
    assert "Links that were not followed: 1." in told
    assert "3 logs (" in told


@pytest.mark.slow
def test_json(run: Run, logs: Path, tmp_path: Path) -> None:
    """The same for programs; a result that lies in the folder is no log, now or the next time."""
    for more in ((), ("--force",)):
        done = run("decode", "--batch", str(logs), "--out", str(logs / "out.csv"), "--json", *more)
        assert (done.returncode, done.stderr) == (0, "")
        data = json.loads(done.stdout)
        assert (data["format"], data["version"]) == ("nopost-batch", 1)
        assert (data["logs"], data["problems"], data["skipped_links"]) == (3, 1, 1)
        assert data["outcomes"] == [{"outcome": "stalled", "logs": 2}]
        assert sum(cause["logs"] for cause in data["leading_causes"]) == 2
    with (logs / "out.csv").open(newline="") as stream:
        assert [row["name"] for row in csv.DictReader(stream)] == ["a.txt", "b.txt", "c.txt"]


@pytest.mark.slow
def test_lines_from_a_pipe(run: Run, tmp_path: Path) -> None:
    """Broken lines are rows; two workers give what one gives."""
    lines = [json.dumps({"id": str(i), "log": f"{MEMORY}\n" * (1 + i % 3)}) for i in range(400)]
    lines[7], lines[8] = "{", '{"id": "8"}'
    results = []
    for workers in ("1", "2"):
        out = tmp_path / f"out-{workers}.jsonl"
        done = run("decode", "--batch", "-", "--out", str(out), "--workers", workers, stdin="\n".join(lines))
        assert (done.returncode, done.stderr) == (0, "")
        assert "400 logs" in done.stdout
        results.append(rows(out))
    assert results[0] == results[1]
    assert [row["name"] for row in results[0] if row["problem"]] == ["line 8", "8"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--batch", "none", "--out", "out.csv"), "nopost: none: there is no such folder or file"),
        (("--batch", "empty", "--out", "out.csv"), "nopost: empty: there are no logs in it"),
        (("--batch", "empty", "--out", "out.xyz"), "nopost: out.xyz: its name must end in .jsonl, .csv or .parquet"),
        (("--batch", "empty", "--out", "no/out.csv"), "nopost: no/out.csv: cannot be written: No such file or directory"),
    ],
)
def test_refused(home: Path, run: Run, tmp_path: Path, options: tuple[str, ...], message: str) -> None:
    """One line on standard error, exit code 1, nothing left behind."""
    place = tmp_path / "place"
    (place / "empty").mkdir(parents=True)
    done = nopost("decode", *options, home=home, cwd=place)
    assert (done.returncode, done.stdout, done.stderr) == (1, "", f"{message}\n")
    assert [path.name for path in place.rglob("*")] == ["empty"]


@pytest.mark.slow
@pytest.mark.parametrize("ending", ["jsonl", "csv", "parquet"])
def test_full_disk(home: Path, run: Run, tmp_path: Path, ending: str) -> None:
    """One line that names the file; no half file stays."""
    assert run("codes", "list").returncode == 0  # the cache is filled
    lines = "".join(json.dumps({"id": f"{i:0500}", "log": MEMORY}) + "\n" for i in range(400))
    place = tmp_path / "place"
    place.mkdir()
    done = subprocess.run(
        command("decode", "--batch", "-", "--out", f"out.{ending}", "--workers", "1"),
        input=lines,
        cwd=place,
        capture_output=True,
        encoding="utf-8",
        env=environment(home),
        timeout=300,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096)),
    )
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr == f"nopost: out.{ending}: cannot be written: File too large\n"
    assert list(place.iterdir()) == []


@pytest.mark.slow
@pytest.mark.parametrize("workers", ["1", "2"])
def test_interrupt_leaves_what_was_done(home: Path, tmp_path: Path, workers: str) -> None:
    """Ctrl-C at a terminal reaches every process: the one message names the partial result, which can be read."""
    place = tmp_path / "place"
    place.mkdir()
    process = subprocess.Popen(
        command("decode", "--batch", "-", "--out", "out.jsonl", "--workers", workers),
        cwd=place,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment(home),
        start_new_session=True,
    )
    assert process.stdin is not None
    for i in range(1000):
        process.stdin.write(json.dumps({"id": str(i), "log": MEMORY}).encode() + b"\n")
    process.stdin.flush()
    until = time.monotonic() + 120
    while not any(path.stat().st_size for path in place.iterdir()) and time.monotonic() < until:
        time.sleep(0.05)
    os.killpg(process.pid, signal.SIGINT)
    told, errors = process.communicate(timeout=120)
    assert (process.returncode, told) == (130, b"")
    found = rows(place / "out.partial.jsonl")
    assert found
    assert [row["name"] for row in found] == [str(i) for i in range(len(found))]
    assert errors.decode() == f"Stopped; the logs done so far ({len(found)}) are in out.partial.jsonl.\n"
    assert [path.name for path in place.iterdir()] == ["out.partial.jsonl"]


@pytest.mark.slow
def test_workers_end_with_a_killed_parent(home: Path, tmp_path: Path) -> None:
    """No process waits for ever for one that is gone: all of them let go of standard output."""
    process = subprocess.Popen(
        command("decode", "--batch", "-", "--out", str(tmp_path / "out.jsonl"), "--workers", "2"),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=environment(home),
    )
    assert process.stdin is not None
    assert process.stdout is not None
    for _ in range(1000):
        process.stdin.write(json.dumps(MEMORY).encode() + b"\n")
    process.stdin.flush()
    until = time.monotonic() + 120
    while not any(path.stat().st_size for path in tmp_path.glob(".out.jsonl.*")) and time.monotonic() < until:
        time.sleep(0.05)
    process.kill()
    with process.stdin, process.stdout:
        assert process.stdout.read() == b""  # comes to an end only when the last of them has ended
    process.wait()


@pytest.mark.slow
def test_bar_at_a_terminal(terminal: Callable[..., Terminal], tmp_path: Path) -> None:
    """A run of more than a second shows how far it is."""
    path = tmp_path / "logs.jsonl"
    path.write_text((json.dumps(f"{MEMORY} " * 12) + "\n") * 2000)
    with terminal("decode", "--batch", str(path), "--out", str(tmp_path / "out.csv"), columns=120) as t:
        t.wait_for("a second")
        t.wait_for(f"in {tmp_path / 'out.csv'}")
        assert "Outcome" in t.text
        assert "%" in t.text


@pytest.mark.slow
def test_a_result_that_is_there_is_kept(run: Run, logs: Path, tmp_path: Path) -> None:
    """It is written over only when that is asked for."""
    out = tmp_path / "out.csv"
    out.write_text("of yesterday")
    done = run("decode", "--batch", str(logs), "--out", str(out))
    assert (done.returncode, done.stderr) == (1, f"nopost: {out}: is there already; name another file, or say --force\n")
    assert out.read_text() == "of yesterday"
    assert run("decode", "--batch", str(logs), "--out", str(out), "--force").returncode == 0
    assert out.read_text().startswith("name,")


@pytest.mark.slow
def test_the_logs_are_never_written_over(run: Run, tmp_path: Path) -> None:
    """--out that is the input, by whatever name, is refused and the logs stay as they are."""
    logs = tmp_path / "logs.jsonl"
    logs.write_text('"10 11 53"\n')
    (tmp_path / "link.jsonl").symlink_to(logs)
    for out in (logs, tmp_path / "link.jsonl"):
        done = run("decode", "--batch", str(logs), "--out", str(out))
        assert done.returncode == 1
        assert "another name" in done.stderr
        assert logs.read_text() == '"10 11 53"\n'
