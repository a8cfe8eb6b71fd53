"""Odd surroundings: full and read-only disks, several at once, clocks, encodings, narrow windows, streams that are closed."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

from bench import ROOT
from bench.faults import disks, streams, together
from bench.section import Section
from cli.terminal import GENEROUS, Terminal, command, environment, words

Trial = Callable[[Path], str]
"""In a folder of its own: what came out, or an AssertionError that says what is wrong."""

CLOCK = """\
import datetime as real, itertools
steps = itertools.count()
class Back(real.datetime):
    @classmethod
    def now(cls, tz=None):
        return real.datetime.__new__(cls, 2031, 5, 17, 12, tzinfo=tz) - real.timedelta(hours=next(steps))
real.datetime = Back
"""


def surroundings(work: Path, only: str = "") -> Section:
    """Every trial once."""
    table = Section("Surroundings", ("tried", "came out"))
    for name, trial in TRIALS.items():
        if only not in name:
            continue
        place = work / name.replace(" ", "-").replace("/", "")
        place.mkdir(parents=True, exist_ok=True)
        try:
            table.add(name, trial(place))
        except disks.NotHere as reason:
            table.add(name, f"skipped: {reason}")
        except (AssertionError, subprocess.TimeoutExpired) as fault:
            table.add(name, "FAULT")
            table.notes.append(f"FAULT {name}: {fault}"[:1500])
    return table


def clock_backwards(place: Path) -> str:
    """Each look at the clock is an hour earlier than the one before."""
    (place / "sitecustomize.py").write_text(CLOCK, encoding="utf-8")
    with Terminal(["diagnose", "--name", "back"], environment(place, FIRST=str(place))) as at:
        at.prompt()
        for _ in range(3):
            at.say("1")
        at.say("q")
        assert at.end() == 0, at.text[-500:]
    with Terminal(["resume"], environment(place)) as at:
        assert "step 4" in words(at.prompt()), at.text[-500:]
        at.say("q")
        assert at.end() == 0
    shown = streams.run(place, "report", "back")
    assert shown.returncode == 0, shown.stderr
    return "3 answers kept with falling times, resumed, reported"


def from_the_future(place: Path) -> str:
    """A session file with a time a year ahead."""
    streams.run(place, "diagnose", "--name", "a", "--ask", stdin="1\nq\n")
    path = place / "sessions" / "a.json"
    os.utime(path, (4e9, 4e9))
    done = streams.run(place, "resume", "a", stdin="1\nq\n")
    assert done.returncode == 0, done.stderr
    return "goes on, exit 0"


def locale_c(place: Path) -> str:
    """No UTF-8 anywhere: typed and shown text that does not exist there."""
    env = environment(place, LANG="C", LC_ALL="C", PYTHONUTF8="0", PYTHONCOERCECLOCALE="0")
    with Terminal(["diagnose", "--name", "c"], env) as at:
        at.prompt()
        at.say("ä☃")
        at.say("1")
        at.say("q")
        assert at.end() == 0, at.text[-500:]
    for words_ in (("decode", "--format", "html", "-"), ("board", "show", "tb-harbour-m2"), ("sessions",)):
        done = subprocess.run(command(*words_), input=b"53 55 \xe2\x98\x83\n", capture_output=True, env=env, timeout=GENEROUS)
        streams.proper(done)
    return "dialogue, decode, board show: exit 0, plain characters"


def encodings(place: Path) -> str:
    """Input and output in encodings that are no extension of ASCII."""
    tried = ("utf-16", "utf-32", "utf-7", "cp037", "ascii", "latin-1", "shift_jis")
    for name in tried:
        for words_ in (
            ("decode",),
            ("diagnose", "--name", "e"),
            ("diagnose", "--ask"),
            ("--help",),
            ("sessions",),
            ("decode", "nowhere"),
        ):
            done = subprocess.run(
                command(*words_),
                input="53 55\nq\n".encode(name),
                capture_output=True,
                env=environment(place, PYTHONIOENCODING=name),
                timeout=GENEROUS,
            )
            assert b"Traceback" not in done.stderr.replace(b"\0", b""), (name, words_, done.stderr.replace(b"\0", b"")[-600:])
            assert done.returncode in (0, 1, 2), (name, words_, done.returncode)
    return f"{len(tried)} encodings of pipes: exit 0, 1 or 2, no traceback"


def one_column(place: Path) -> str:
    """A window of one column, and of one row."""
    for words_, lines in (
        (("diagnose", "--name", "n"), ("1", "?", "", "w", "", "q")),
        (("sessions",), ()),
        (("codes", "show", "55"), ()),
    ):
        with Terminal(words_, environment(place), columns=1, rows=1) as at:
            for line in lines:
                at.prompt() if line == "1" else None
                at.say(line)
            assert at.end() == 0, at.text[-500:]
            assert "Traceback" not in at.text
    return "dialogue with pages, lists: exit 0"


def endless_files(place: Path) -> str:
    """Pipes nobody writes into and devices without an end, wherever a file can be named."""
    pipe = place / "pipe"
    os.mkfifo(pipe)
    tried = 0
    for source in (str(pipe), "/dev/zero"):
        for words_ in (
            ("decode", source),
            ("decode", "--batch", source, "--out", str(place / "o.csv")),
            ("diagnose", "--answers", source),
            ("diagnose", "--board", source),
            ("image", source),
            ("stick", source),
            ("rails", "--file", source),
            ("board", "import", source),
            ("verify", "--board", "tb-harbour-m2", "--dump", source),
            ("kb", "check", source),
            ("kb", "try", source),
            ("kb", "learn", source),
            ("kb", "check", "--kb", source),
            ("plan", "--board", source, "--firmware", "1", "--cpu", "kelp-450"),
        ):
            done = subprocess.run(
                command(*words_), stdin=subprocess.DEVNULL, capture_output=True, env=environment(place), timeout=30
            )
            streams.proper(done, (1, 2))
            tried += 1
    return f"{tried} command lines: refused, exit 1 or 2, none waits"


def odd_places(place: Path) -> str:
    """Where the data folder or a session should be there is something else."""
    (place / "file").write_text("x")
    inside = place / "home" / "sessions"
    (inside / "folder.json").mkdir(parents=True)
    os.mkfifo(inside / "pipe.json")
    (inside / "zero.json").symlink_to("/dev/zero")
    (inside / "gone.json").symlink_to("nowhere")
    (inside / "cut.json").write_text('{"format": "nopost-session"')
    (inside / "deep.json").write_text("[" * 100_000)
    shutil.copy(ROOT / "README.md", inside / "text.json")
    for name in ("folder", "pipe", "zero", "gone", "cut", "deep", "text"):
        for words_ in (("resume", name), ("report", name), ("diagnose", "--ask", "--name", name)):
            streams.proper(streams.run(place / "home", *words_, stdin="1\nq\n", timeout=30), (0, 1, 2))
    streams.proper(streams.run(place / "home", "sessions", timeout=30), (0,))
    streams.proper(streams.run(place / "file", "diagnose", "--ask", stdin="1\nq\n"), (1,))
    streams.proper(streams.run(place / "file", "sessions"), (0, 1))
    return "7 kinds of broken session files, a data folder that is a file: said in a line"


TRIALS: dict[str, Trial] = {
    "disk full, in a session": disks.full_session,
    "disk full, other output": disks.full_output,
    "file size limit of zero": disks.no_size,
    "read-only data folder": disks.read_only,
    "two processes on one session": together.one_session,
    "twelve begun at once": together.at_once,
    "scores of one person from several": together.scores_at_once,
    "clock going backwards": clock_backwards,
    "a session file from the future": from_the_future,
    "locale C": locale_c,
    "encodings of pipes": encodings,
    "one column, one row": one_column,
    "standard streams closed": streams.closed,
    "readers that go away (SIGPIPE)": streams.broken_pipes,
    "terminal closed (SIGHUP), SIGTERM": streams.hung_up,
    "pipes and devices as files": endless_files,
    "odd things where files should be": odd_places,
}
