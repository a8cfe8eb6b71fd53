"""Runs nopost as a person or a script does: as a process, through pipes or at a terminal of a given size."""

from __future__ import annotations

import atexit
import fcntl
import os
import pty
import re
import select
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from cli.forked import ForkedRun, finished, forking

ROOT = Path(__file__).resolve().parents[2]
PROMPT = "> "
GENEROUS = 90.0
"""Seconds until a text that never comes is given up."""

_ESCAPE = re.compile(r"\x1b(\[[0-9;?]*[ -/]*[@-~]|\][^\x07\x1b]*(\x07|\x1b\\)|[@-_=>])")
_OWN_TERMINAL = (
    "import fcntl,os,signal,sys,termios; fcntl.ioctl(0,termios.TIOCSCTTY,0);"
    "[signal.signal(n,signal.SIG_DFL) for n in (signal.SIGINT,signal.SIGQUIT)];"
    "os.execv(sys.executable,[sys.executable,*sys.argv[1:]])"
)
"""A terminal of its own, and Ctrl-C heard even when the tests run in the background, where shells have it ignored."""
_LEFT_OUT = (
    "COLUMNS",
    "LINES",
    "NO_COLOR",
    "FORCE_COLOR",
    "TTY_COMPATIBLE",
    "TTY_INTERACTIVE",
    "TERM",
    "LC_ALL",
    "LANG",
    "LC_CTYPE",
)


@cache
def warm_cache() -> Path:
    """A cache folder for all processes of these tests; the first one fills it, and it is gone when the tests have ended."""
    folder = TemporaryDirectory(prefix="nopost-cache-")
    atexit.register(folder.cleanup)
    return Path(folder.name)


def environment(home: Path | None, **more: str) -> dict[str, str]:
    """A plain environment with the sources of this checkout and a data folder of its own; only the cache in it is shared.

    `home`: the data folder, which is made; None for an environment in which no command is run.
    """
    if home is not None and not (home / "cache").exists():
        home.mkdir(parents=True, exist_ok=True)
        (home / "cache").symlink_to(warm_cache())
    kept = {key: value for key, value in os.environ.items() if key not in _LEFT_OUT and not key.startswith(("PYTHON", "NOPOST"))}
    sources = os.pathsep.join([*filter(None, [more.pop("FIRST", "")]), str(ROOT / "engine"), str(ROOT / "cli")])
    return {**kept, "PYTHONPATH": sources, "NOPOST_HOME": str(home), "TERM": "xterm-256color", "LANG": "C.UTF-8", **more}


def nopost(
    *words: str, home: Path, stdin: str = "", cwd: Path | None = None, env: Mapping[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    """Run nopost through pipes, in a process of its own. `env`: variables beside those of a plain environment."""
    code, output, errors = finished(list(words), stdin.encode(), environment(home, **(env or {})), cwd)
    texts = (text.decode("utf-8").replace("\r\n", "\n") for text in (output, errors))
    return subprocess.CompletedProcess(command(*words), code, *texts)


def command(*words: str) -> list[str]:
    """The real entry point with these words."""
    return [sys.executable, "-m", "nopost_cli", *words]


def plain(text: str) -> str:
    """Text without escape codes and carriage returns."""
    return _ESCAPE.sub("", text).replace("\r", "")


def words(text: str) -> str:
    """Text in one line, so that it does not matter where it was wrapped."""
    return " ".join(plain(text).split())


class Terminal:
    """A process at a terminal. Use it in a `with`; what came on screen is in `text`."""

    def __init__(self, arguments: Iterable[str], env: Mapping[str, str], columns: int = 100, rows: int = 60) -> None:
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.process: ForkedRun | subprocess.Popen[bytes]
        if forking().fits(env):
            self.process = forking().begin(list(arguments), [slave] * 3, env, None, terminal=True)
        else:
            self.process = subprocess.Popen(
                [sys.executable, "-S", "-E", "-c", _OWN_TERMINAL, "-m", "nopost_cli", *arguments],
                stdin=slave,
                stdout=slave,
                stderr=slave,
                env=dict(env),
                start_new_session=True,
            )
        os.close(slave)
        self.text = ""
        self.raw = b""

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        os.close(self.master)

    def wait_for(self, wanted: str, begin: int = 0) -> str:
        """Read until the text (its wrapping does not matter) stands after `begin`; what stands there."""
        return self._read(begin, lambda new: words(wanted) in words(new), wanted)

    def prompt(self, begin: int = 0) -> str:
        """Read until it asks for a line, or ends; what came after `begin`."""
        return self._read(begin, lambda new: plain(new).endswith(f"\n{PROMPT}"), "the prompt")

    def say(self, line: str) -> str:
        """Type a line; what comes until it asks again or ends."""
        begin = len(self.text)
        self.type(f"{line}\n")
        return self.prompt(begin)

    def past(self, title: str) -> None:
        """Leave the first screen with Enter if it has this title, and forget it."""
        if title in plain(self.prompt()):
            self.raw, self.text = b"", ""
            self.type("\n")

    def type(self, characters: str) -> None:
        """Press keys."""
        os.write(self.master, characters.encode("utf-8", "surrogateescape"))

    def press_until(self, key: str, wanted: str) -> None:
        """Press a key again each second until the text comes, as people do: between prompt and reading, Ctrl-C can get lost."""
        begin = len(self.text)
        for _ in range(int(GENEROUS)):
            self.type(key)
            last = time.monotonic() + 1.0
            while (left := last - time.monotonic()) > 0:  # what is typed comes back as well, so something always comes
                if self._come(left) is False or words(wanted) in words(self.text[begin:]):
                    return
        raise AssertionError(f"{wanted!r} did not come:\n{plain(self.text)[-3000:]}")

    def signal(self, number: int) -> None:
        """Send a signal, again each second until the process has closed the terminal: as with the key, one can get lost."""
        for _ in range(int(GENEROUS)):
            self.process.send_signal(number)
            last = time.monotonic() + 1.0
            while (left := last - time.monotonic()) > 0:
                if self._come(left) is False:
                    return
        raise AssertionError(f"signal {number} did not end it:\n{plain(self.text)[-3000:]}")

    def end(self) -> int:
        """Read to the end; the exit code."""
        self._read(0, lambda _: False, "")
        return self.process.wait(GENEROUS)

    def _read(self, begin: int, enough: Callable[[str], bool], wanted: str) -> str:
        while not enough(self.text[begin:]):
            come = self._come(GENEROUS)
            assert come is not None, f"{wanted!r} did not come:\n{plain(self.text)[-3000:]}"
            if not come:
                break
        return self.text[begin:]

    def _come(self, seconds: float) -> bool | None:
        """Whether something came; False when the process has closed the terminal, None when it is silent for so long."""
        if not select.select([self.master], [], [], seconds)[0]:
            return None
        try:
            chunk = os.read(self.master, 65536)
        except OSError:
            chunk = b""
        self.raw += chunk
        self.text = self.raw.decode("utf-8", "replace")
        return bool(chunk)
