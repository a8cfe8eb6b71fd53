"""Processes of nopost that need not import it again: one process has imported everything and forks for each run.

A run is a process of its own all the same: its own streams, folder, environment and exit code, and what it changes dies with it.
Only the imports are shared, which take longer than most commands. What the environment says of Python or of the language is
settled at a process's start, so whoever changes that gets a process that is started afresh instead.
"""

from __future__ import annotations

import atexit
import contextlib
import fcntl
import gc
import importlib
import json
import os
import pkgutil
import runpy
import select
import selectors
import signal
import socket
import subprocess
import sys
import termios
import traceback
from collections.abc import Mapping
from functools import cache
from io import TextIOWrapper
from pathlib import Path
from typing import NoReturn, TypedDict

STREAMS = 4
"""Input, output, errors, and the line on which the exit code is told."""
LONGEST_REQUEST = 1 << 20
PATIENCE = 300.0
"""Seconds until a run that does not end is given up."""
AT_START = ("PYTHON", "LANG", "LC_", "LD_", "HOME", "OPENBLAS")
"""Beginnings of variables that count when a process starts."""


class Request(TypedDict):
    """What a run is: its words, environment and folder, and whether its input is a terminal that controls it."""

    words: list[str]
    env: dict[str, str]
    cwd: str
    terminal: bool


class ForkedRun:
    """One run of nopost; it can be asked and ended like a `subprocess.Popen`."""

    def __init__(self, line: socket.socket) -> None:
        self.line = line
        self.line.settimeout(PATIENCE)
        self.pid = int(line.recv(64))
        self.returncode: int | None = None

    def wait(self, seconds: float = PATIENCE) -> int:
        """The exit code, once it has ended; as with Popen, minus the number of the signal that ended it."""
        if self.returncode is None:
            self.line.settimeout(seconds)
            self.returncode = int(self.line.recv(64))
            self.line.close()
        return self.returncode

    def poll(self) -> int | None:
        """The exit code, or None while it runs."""
        if self.returncode is None and select.select([self.line], [], [], 0)[0]:
            self.wait()
        return self.returncode

    def send_signal(self, number: int) -> None:
        """Send a signal, if it still runs."""
        if self.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, number)

    def kill(self) -> None:
        """End it at once."""
        self.send_signal(signal.SIGKILL)


class ForkingProcess:
    """The process that forks, and the connection to it."""

    def __init__(self, env: Mapping[str, str]) -> None:
        self.env = dict(env)
        self.ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with theirs:
            line = [sys.executable, "-m", "cli.forked", str(theirs.fileno())]
            tests = str(Path(__file__).resolve().parents[1])
            env = {**env, "PYTHONPATH": os.pathsep.join([env["PYTHONPATH"], tests]), "OPENBLAS_NUM_THREADS": "1"}
            self.process = subprocess.Popen(line, env=env, pass_fds=[theirs.fileno()], stdin=subprocess.DEVNULL)

    def fits(self, env: Mapping[str, str]) -> bool:
        """Whether a run may have this environment: what counts at the start of a process is that of the forking one."""
        names = {name for name in {*env, *self.env} if name.startswith(AT_START)}
        return all(env.get(name) == self.env.get(name) for name in names)

    def begin(self, words: list[str], streams: list[int], env: Mapping[str, str], cwd: Path | None, terminal: bool) -> ForkedRun:
        """Run `nopost` with these words and streams. `terminal`: the first stream is the terminal that controls it."""
        request = Request(words=words, env=dict(env), cwd=str(cwd or Path.cwd()), terminal=terminal)
        line, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with theirs:
            socket.send_fds(self.ours, [json.dumps(request).encode()], [*streams, theirs.fileno()])
        return ForkedRun(line)

    def close(self) -> None:
        """End it."""
        self.ours.close()
        self.process.wait()


@cache
def forking() -> ForkingProcess:
    """The one process that forks, started when it is first needed and ended with the tests."""
    from cli.terminal import environment

    fork = ForkingProcess(environment(None))
    atexit.register(fork.close)
    return fork


def finished(words: list[str], stdin: bytes, env: Mapping[str, str], cwd: Path | None) -> tuple[int, bytes, bytes]:
    """Exit code, output and error output of `nopost` with these words, in a process of its own."""
    if not forking().fits(env):
        line = [sys.executable, "-m", "nopost_cli", *words]
        done = subprocess.run(line, input=stdin, capture_output=True, env=dict(env), cwd=cwd, timeout=PATIENCE, check=False)
        return done.returncode, done.stdout, done.stderr
    pipes = [os.pipe() for _ in range(3)]
    theirs = [pipes[0][0], pipes[1][1], pipes[2][1]]
    try:
        run = forking().begin(words, theirs, env, cwd, terminal=False)
    finally:
        for handed in theirs:
            os.close(handed)
    output, errors = _exchanged(pipes[0][1], stdin, [pipes[1][0], pipes[2][0]])
    return run.wait(), output, errors


def _exchanged(source: int, text: bytes, sinks: list[int]) -> list[bytes]:
    """Write all of a text to one pipe while others are read to their end."""
    got = {sink: bytearray() for sink in sinks}
    left = memoryview(text)
    with selectors.DefaultSelector() as waiting:
        for sink in sinks:
            waiting.register(sink, selectors.EVENT_READ)
        os.set_blocking(source, False)
        waiting.register(source, selectors.EVENT_WRITE)
        while waiting.get_map():
            ready = waiting.select(PATIENCE)
            if not ready:
                raise TimeoutError(f"silent for {PATIENCE:.0f} seconds: {bytes(got[sinks[0]])[-500:]!r}")
            for key, _ in ready:
                if key.fd == source:
                    left = _written(source, left)
                    ended = not left
                else:
                    chunk = os.read(key.fd, 1 << 16)
                    got[key.fd] += chunk
                    ended = not chunk
                if ended:
                    waiting.unregister(key.fd)
                    os.close(key.fd)
    return [bytes(got[sink]) for sink in sinks]


def _written(pipe: int, left: memoryview) -> memoryview:
    """What is left once the pipe has taken some; nothing when nobody reads it any more."""
    try:
        return left[os.write(pipe, left) :] if left else left
    except BrokenPipeError:
        return left[:0]


def _serve(connection: socket.socket) -> None:
    """Fork for each request and answer with its exit code, until the other end is closed."""
    import nopost
    import nopost_cli

    for package in (nopost, nopost_cli):
        for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            if not module.name.endswith("__main__"):
                importlib.import_module(module.name)
    importlib.import_module("click.shell_completion")
    assert "readline" not in sys.modules, "it looks at the terminal and its settings when it is imported"
    gc.freeze()
    while True:
        text, streams, _, _ = socket.recv_fds(connection, LONGEST_REQUEST, STREAMS)
        if not text:
            return
        if os.fork() == 0:
            connection.close()
            _watch(json.loads(text), streams[:3], socket.socket(fileno=streams[3]))
        for stream in streams:
            os.close(stream)
        with contextlib.suppress(ChildProcessError):
            while os.waitpid(-1, os.WNOHANG)[0]:
                pass


def _watch(request: Request, streams: list[int], line: socket.socket) -> NoReturn:
    """Fork the run, and tell its number at once and its exit code when it has ended."""
    child = os.fork()
    if child == 0:
        line.close()
        _become(request, streams)
    for stream in streams:
        os.close(stream)
    with contextlib.suppress(OSError):  # whoever began it may be gone
        line.send(str(child).encode())
        line.send(str(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])).encode())
    os._exit(0)


def _become(request: Request, streams: list[int]) -> NoReturn:
    """Be the run: its streams, environment, folder and words; then its exit code."""
    code = 1
    try:
        _take(streams)
        if request["terminal"]:
            os.setsid()
            fcntl.ioctl(0, termios.TIOCSCTTY, 0)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        signal.signal(signal.SIGQUIT, signal.SIG_DFL)
        os.environ.clear()
        os.environ.update(request["env"])
        os.chdir(request["cwd"])
        sys.argv = ["nopost", *request["words"]]
        runpy.run_module("nopost_cli", run_name="__main__", alter_sys=True)
        code = 0
    except SystemExit as ended:
        code = ended.code if isinstance(ended.code, int) else int(ended.code is not None)
    except BaseException:
        traceback.print_exc()
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):
            code = code or 120  # as Python itself does
    os._exit(code)


def _take(streams: list[int]) -> None:
    """Put streams in the places of this process's own, with the encodings that Python chose at its start."""
    for number, stream in enumerate(streams):
        os.dup2(stream, number)
        os.close(stream)
    for number, (name, mode) in enumerate((("stdin", "rb"), ("stdout", "wb"), ("stderr", "wb"))):
        before: TextIOWrapper = getattr(sys, name)
        raw = open(number, mode, closefd=False)  # noqa: SIM115  # for as long as the process runs
        by_line = number == 2 or (number == 1 and os.isatty(1))
        setattr(sys, name, TextIOWrapper(raw, before.encoding, before.errors, line_buffering=by_line))


if __name__ == "__main__":
    _serve(socket.socket(fileno=int(sys.argv[1])))
