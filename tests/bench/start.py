"""Cold start: what each command takes from nothing to its end, beside an empty Python and one that imports numpy."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from functools import partial

from bench import ROOT
from bench.clock import in_turn
from bench.section import Options, Section
from nopost_cli.main import COMMANDS

EMPTY, NUMPY = "Python alone (reference)", "Python with numpy (reference)"
AT_WORK = (
    ("diagnose", "--answer", "response=nothing", "--json"),
    ("decode", "--json", "19 A2 AB"),
    ("codes", "show", "4F"),
    ("rails", "12V=11.2"),
    ("sessions",),
    ("kb", "check"),
)


def sections(options: Options) -> list[Section]:
    """The help of each command, and some commands at work."""
    repeats = options.few(5, 1)
    table = Section(f"Cold start, medians of {repeats}", ("command", "ms", "spread", "over Python alone"))
    lines: dict[str, list[str]] = {EMPTY: ["-c", "pass"], NUMPY: ["-c", "import numpy"]}
    for words in [(), *((name,) for name in COMMANDS)][: options.few(99, 2)]:
        lines[" ".join(("nopost", *words, "--help"))] = ["-m", "nopost_cli", *words, "--help"]
    for words in AT_WORK[: options.few(99, 1)]:
        lines[" ".join(("nopost", *words))] = ["-m", "nopost_cli", *words]
    with tempfile.TemporaryDirectory() as home:
        works = [partial(_run, line, home) for line in lines.values()]
        timings = in_turn(works, repeats, time.perf_counter)
    for name, timing in zip(lines, timings, strict=True):
        table.add(name, timing.ms, timing.spread, timing.over(timings[0]))
    table.notes.append("The first go of each, which fills the knowledge cache, is not counted.")
    return [table]


def _run(words: list[str], home: str) -> None:
    """Run Python; a command may end with 1 when it found a problem, but never otherwise."""
    environment = {**os.environ, "NOPOST_HOME": home, "XDG_CACHE_HOME": home}
    environment["PYTHONPATH"] = os.pathsep.join(str(ROOT / folder) for folder in ("engine", "cli"))
    done = subprocess.run([sys.executable, *words], env=environment, capture_output=True, stdin=subprocess.DEVNULL, check=False)
    assert done.returncode in (0, 1), (words, done.stderr[-500:])
