"""Processes whose standard streams are closed, break off or hang up."""

from __future__ import annotations

import json
import os
import signal
import subprocess
from collections.abc import Collection
from pathlib import Path

from cli.terminal import GENEROUS, Terminal, command, environment

COMMANDS = (
    ("diagnose",),
    ("diagnose", "--ask", "--name", "x"),
    ("diagnose", "--answer", "screen=no-signal"),
    ("decode",),
    ("decode", "--json"),
    ("decode", "--batch", "-", "--out", "/dev/null/x.csv"),
    ("codes", "list"),
    ("rails", "12V=11.3"),
    ("rails", "--file", "-"),
    ("board", "show", "tb-harbour-m2"),
    ("board", "import", "-"),
    ("board", "new"),
    ("plan", "--board", "tb-harbour-m2", "--firmware", "0.102", "--cpu", "kelp-450"),
    ("verify", "--board", "tb-harbour-m2"),
    ("resume",),
    ("sessions",),
    ("kb", "check"),
    ("kb", "add", "cause", "--kb", "."),
    ("drill",),
    ("drill", "sheet", "--seed", "1"),
    ("--help",),
    ("nonsense",),
)
ENDS = (0, 1, 2, 130, 141)


def run(home: Path, *words: str, stdin: str = "", timeout: float = GENEROUS) -> subprocess.CompletedProcess[str]:
    """nopost through pipes."""
    return subprocess.run(
        command(*words), input=stdin, capture_output=True, encoding="utf-8", env=environment(home), timeout=timeout
    )


def proper(done: subprocess.CompletedProcess[str] | subprocess.CompletedProcess[bytes], codes: Collection[int] = ENDS) -> None:
    """It ended as programs end: an exit code that is meant, and no traceback."""
    told = done.stderr if isinstance(done.stderr, str) else (done.stderr or b"").decode("utf-8", "replace")
    assert "Traceback" not in told, (done.args[3:], told[-1200:])
    assert "Exception ignored" not in told, (done.args[3:], told[-1200:])
    assert done.returncode in codes, (done.args[3:], done.returncode, told[-600:])


def closed(place: Path) -> str:
    """Each command with each stream closed, and with all of them closed."""
    tried = 0
    for words in COMMANDS:
        for shut in ("<&-", ">&-", "2>&-", "<&- >&- 2>&-"):
            script = f'exec "$0" "$@" {shut}'
            done = subprocess.run(
                ["/bin/sh", "-c", script, *command(*words)],
                input=b"53 55\n",
                capture_output=True,
                env=environment(place),
                timeout=GENEROUS,
            )
            proper(done)
            tried += 1
    return f"{tried} command lines: exit 0, 1 or 2, no traceback"


def broken_pipes(place: Path) -> str:
    """The reader of the output has gone before anything is written."""
    tried = 0
    for words in COMMANDS:
        for stream in ("stdout", "stderr"):
            inner, outer = os.pipe()
            os.close(inner)
            pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, stream: outer}
            done = subprocess.run(command(*words), input=b"53 55\n", env=environment(place), timeout=GENEROUS, **pipes)  # type: ignore[call-overload]
            os.close(outer)
            proper(done, (*ENDS, -signal.SIGPIPE))
            tried += 1
    return f"{tried} command lines: no traceback, none hangs"


def hung_up(place: Path) -> str:
    """The window is closed, or the system shuts down, in the middle of a session."""
    for k, number in enumerate((signal.SIGHUP, signal.SIGTERM, signal.SIGINT, signal.SIGQUIT)):
        with Terminal(["diagnose", "--name", f"h{k}"], environment(place)) as at:
            at.prompt()
            at.say("1")
            at.say("1")
            at.signal(number)
            at.end()
            assert "Traceback" not in at.text, at.text[-800:]
        data = json.loads((place / "sessions" / f"h{k}.json").read_text("utf-8"))
        assert len(data["events"]) == 2, data["events"]
    return "both answers kept each time"
