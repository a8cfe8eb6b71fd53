"""Other systems: without what POSIX alone has, and with blanks and letters beyond ASCII in every path."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import types
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.terminal import ROOT, Terminal, nopost
from nopost.knowledge.model import Knowledge
from nopost.store.sessions import load
from nopost_cli.shared import terminal as shared_terminal

Run = Callable[..., subprocess.CompletedProcess[str]]
Spawn = Callable[..., Terminal]

WITHOUT_POSIX = """
import os, select, signal, sys
for name in ("readline", "fcntl", "termios", "tty", "pty", "resource", "pwd", "grp", "curses"):
    sys.modules[name] = None
KEPT = {"SIGABRT", "SIGFPE", "SIGILL", "SIGINT", "SIGSEGV", "SIGTERM", "SIG_DFL", "SIG_IGN"}
for name in [name for name in dir(signal) if name.startswith(("SIG", "pthread", "sigwait", "setitimer", "alarm"))]:
    if name not in KEPT:
        delattr(signal, name)
for name in ("O_NONBLOCK", "O_DIRECTORY", "sched_getaffinity", "fork", "getuid", "geteuid"):
    delattr(os, name)
watch = select.select
def sockets_alone(*lists):
    if sys.stdin in lists[0]:
        raise OSError(10038, "not a socket")
    return watch(*lists)
select.select = sockets_alone
"""
"""What Python's library reference marks as Unix alone (modules `signal`, `os`, `select`, and those that are taken away whole)."""


@pytest.fixture
def elsewhere(tmp_path: Path) -> dict[str, str]:
    """An environment in which Python lacks all of that from its start."""
    folder = tmp_path / "first"
    folder.mkdir()
    (folder / "sitecustomize.py").write_text(WITHOUT_POSIX, encoding="utf-8")
    return {"FIRST": str(folder)}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "stdin", "said"),
    [
        (("diagnose", "--answer", "screen=no-signal"), "", "%"),
        (("decode",), "53\n55\n", "55"),
        (("rails", "12V=11.3"), "", "11.3"),
        (("sessions",), "", "There are no sessions yet"),
        (("board", "show", "tb-harbour-m2"), "", "Harbour"),
        (("kb", "check", str(ROOT / "tests" / "bad_kb" / "_good")), "", ""),
        (("drill", "sheet", "--seed", "7"), "", "7"),
    ],
    ids=lambda part: " ".join(part[:2]) if isinstance(part, tuple) else None,
)
def test_commands_run(run: Run, elsewhere: dict[str, str], words: tuple[str, ...], stdin: str, said: str) -> None:
    """To their end, and nothing on standard error but what they have to say."""
    done = run(*words, stdin=stdin, env=elsewhere)
    assert (done.returncode, "Traceback" in done.stderr) == (0, False), done.stderr
    assert said in done.stdout


@pytest.mark.slow
def test_dialogue_runs(terminal: Spawn, elsewhere: dict[str, str], knowledge: Knowledge, run: Run) -> None:
    """It asks, keeps the answer under a lock, and goes on another time; without editing, and with no paste noticed."""
    with terminal("diagnose", "--name", "bench", env=elsewhere) as t:
        t.prompt()
        t.say("1")
        t.say("q")
        assert t.end() == 0
    assert len(load("bench", knowledge).history.events) == 1
    done = run("report", "bench", env=elsewhere)
    assert (done.returncode, done.stderr) == (0, "")


class Keyboard(types.ModuleType):
    """Windows' module for its console: a key is there at the n-th look."""

    def __init__(self, looks: int) -> None:
        super().__init__("msvcrt")
        self.left = looks

    def kbhit(self) -> int:
        """Not 0 once a key waits."""
        self.left -= 1
        return int(self.left < 0)


@pytest.mark.parametrize(("looks", "seconds", "waits"), [(0, 0.0, True), (3, 5.0, True), (10**9, 0.03, False)])
def test_windows_console_is_polled(monkeypatch: pytest.MonkeyPatch, looks: int, seconds: float, waits: bool) -> None:
    """A key that is there at once or soon, and none."""
    monkeypatch.setitem(sys.modules, "msvcrt", Keyboard(looks))
    assert shared_terminal.input_waits(seconds) is waits


def test_terminal_that_cannot_be_watched(monkeypatch: pytest.MonkeyPatch) -> None:
    """No module to watch it with: nothing waits, and nothing fails."""
    monkeypatch.setitem(sys.modules, "msvcrt", None)
    monkeypatch.setitem(sys.modules, "select", None)
    assert shared_terminal.input_waits(0.0) is False


ASCII_ALONE = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
"""Python takes UTF-8 in the C locale unless it is told not to (PEP 538 and 540)."""
PLACE = "Werkstatt Übung №3 – 試"


@pytest.fixture(params=[{}, ASCII_ALONE], ids=["utf-8", "ascii"])
def workshop(tmp_path: Path, home: Path, request: pytest.FixtureRequest) -> Run:
    """Run a command in such a folder, the data folder in it too; where the terminal shows all letters, and where only ASCII."""
    folder = tmp_path / PLACE
    folder.mkdir()
    inner = folder / "Daten für alle"
    home.rename(inner)
    shutil.copytree(ROOT / "tests" / "bad_kb" / "_good", folder / "Wissen neu")

    def start(*words: str, stdin: str = "") -> subprocess.CompletedProcess[str]:
        return nopost(*words, home=inner, stdin=stdin, cwd=folder, env=request.param)

    return start


RELEASES = "version,date,notes\n1.0,2031-01-05,First release\n1.1,2031-03-09,Improves memory\n"


@pytest.mark.slow
def test_paths_of_a_trainer(workshop: Run, tmp_path: Path) -> None:
    """A knowledge base is begun, looked through, drawn and handed on."""
    folder = tmp_path / PLACE
    for words in (
        ("kb", "new", "Eigenes Wissen", "--empty", "--name", "Übungsstation"),
        ("kb", "check", "Wissen neu"),
        ("kb", "try", "--kb", "Wissen neu"),
        ("kb", "export", "--kb", "Wissen neu", "--bif", "Netz für alle.bif"),
        ("kb", "compare", "Wissen neu", "Wissen neu", "--out", "Vergleich für alle.md"),
    ):
        done = workshop(*words)
        assert (done.returncode, "Traceback" in done.stderr) == (0, False), (words, done.stdout, done.stderr)
    assert (folder / "Eigenes Wissen" / "base.yaml").is_file()
    assert (folder / "Netz für alle.bif").stat().st_size
    assert (folder / "Vergleich für alle.md").stat().st_size


@pytest.mark.slow
def test_paths_at_the_bench(workshop: Run, tmp_path: Path) -> None:
    """Codes, readings and a list of releases are read from such files, and a session is kept, listed and written down."""
    folder = tmp_path / PLACE
    (folder / "Mitschnitt für später.log").write_text("53\n55\n", encoding="utf-8")
    (folder / "Messung für Ü.csv").write_text("name,value\n12V,11.3\n", encoding="utf-8")
    (folder / "Liste für Ü.csv").write_text(RELEASES, encoding="utf-8")
    (folder / "Logs für Ü").mkdir()
    (folder / "Logs für Ü" / "Ü 1.log").write_text("53\n55\n", encoding="utf-8")
    for words, stdin in (
        (("decode", "Mitschnitt für später.log"), ""),
        (("decode", "--batch", "Logs für Ü", "--out", "Zeilen für Ü.csv"), ""),
        (("rails", "--file", "Messung für Ü.csv"), ""),
        (("board", "import", "Liste für Ü.csv", "--id", "tb-uebung", "--out", "Brett für Ü.yaml"), ""),
        (("diagnose", "--name", "bench", "--kb", "Wissen neu"), "1\nq\n"),
        (("report", "bench"), ""),
        (("drill", "sheet", "--seed", "7", "--out", "Blatt für Ü.md"), ""),
    ):
        done = workshop(*words, stdin=stdin)
        assert (done.returncode, "Traceback" in done.stderr) == (0, False), (words, done.stdout, done.stderr)
    listed = json.loads(workshop("sessions", "--json").stdout)
    shown = listed["folder"].encode("utf-8", "surrogateescape").decode()  # bytes that the locale has no letter for, PEP 383
    assert shown == str(folder / "Daten für alle" / "sessions")
    assert [each["name"] for each in listed["sessions"]] == ["bench"]
    assert all((folder / name).stat().st_size for name in ("Zeilen für Ü.csv", "Brett für Ü.yaml", "Blatt für Ü.md"))
