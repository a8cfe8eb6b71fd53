"""kill -9 at random moments of sessions at a terminal: what was confirmed must be on disk, and every file readable.

An answer is confirmed once the next prompt stands on the screen. The file is looked at then, and again after the kill: what it
held must still be the beginning of what it holds, and at most the one line that was just typed may have come on top.
"""

from __future__ import annotations

import contextlib
import random
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from bench.section import Section
from cli.terminal import Terminal, environment
from nopost.diagnosis.history import Event, EventKind
from nopost.errors import NopostError
from nopost.knowledge.model import Knowledge
from nopost.loading import load_knowledge
from nopost.store.sessions import load

MOST_LINES = 7
STARTING = 0.15
"""So many are killed before the first question: a share."""
LINES = ("1", "1", "1", "2", "2", "s", "3", "u", "0x55", "nonsense")
"""What is typed: answers mostly, sometimes a skip, an undo, a code, or what is not understood."""


@dataclass
class Killed:
    """What one session came to. `fault` says what was lost; empty when nothing was."""

    lines: int = 0
    moment: str = ""
    fault: str = ""


def kill_sessions(home: Path, count: int, seed: int, workers: int = 2, **env: str) -> Section:
    """So many sessions; a table of the moments and of what was lost. `env`: more of the environment."""
    knowledge = load_knowledge()
    began = time.monotonic()
    with ThreadPoolExecutor(workers) as pool:
        done = list(pool.map(lambda k: _one(home, knowledge, f"k{k}", random.Random(f"{seed}-{k}"), env), range(count)))
    table = Section(
        f"kill -9 in {count} sessions at a terminal, seed {seed}", ("moment of the kill", "sessions", "lost or unreadable")
    )
    moments = Counter(each.moment for each in done)
    faults = Counter(each.moment for each in done if each.fault)
    for moment, sessions in sorted(moments.items()):
        table.add(moment, sessions, faults[moment])
    table.add("all", count, sum(faults.values()))
    left = sum(1 for path in (home / "sessions").iterdir() if path.name.startswith(".")) if count else 0
    typed, took = sum(each.lines for each in done), time.monotonic() - began
    table.notes.append(
        f"{typed} lines were confirmed before the kills; {left} half-written files were left beside; {took:.0f} s."
    )
    table.notes += [f"FAULT {each.fault}" for each in done if each.fault][:20]
    return table


def _one(home: Path, knowledge: Knowledge, name: str, luck: random.Random, env: dict[str, str]) -> Killed:
    with Terminal(["diagnose", "--name", name], environment(home, **env)) as at:
        return _until_killed(at, home, knowledge, name, luck)


def _until_killed(at: Terminal, home: Path, knowledge: Knowledge, name: str, luck: random.Random) -> Killed:
    if luck.random() < STARTING:
        time.sleep(luck.uniform(0.0, 1.5))
        at.process.kill()
        at.process.wait()
        return Killed(0, "while it starts", _fault(home, knowledge, name, None, None))
    at.prompt()
    last = luck.randrange(MOST_LINES)
    for number in range(last + 1):
        try:
            confirmed = load(name, knowledge).history.events
        except NopostError as error:
            return Killed(number, "before the kill", f"{name}: {error}")
        line = luck.choice(LINES)
        if number == last:
            break
        at.say(line)
        if at.process.poll() is not None:
            return Killed(number, "it ended by itself", _fault(home, knowledge, name, None, None))
    delay = luck.choice((0.0, luck.uniform(0, 0.02), luck.uniform(0, 0.15), luck.uniform(0, 0.5)))
    with contextlib.suppress(OSError):
        at.type(f"{line}\n")
    time.sleep(delay)
    at.process.kill()
    at.process.wait()
    moment = "at once after a line" if delay == 0 else "within 20 ms of a line" if delay < 0.02 else "within 500 ms of a line"
    return Killed(last, moment, _fault(home, knowledge, name, confirmed, line))


def _fault(home: Path, knowledge: Knowledge, name: str, confirmed: tuple[Event, ...] | None, line: str | None) -> str:
    """What is wrong with the file after the kill; empty when nothing is."""
    if confirmed is None and not (home / "sessions" / f"{name}.json").exists():
        return ""
    try:
        kept = load(name, knowledge).history.events
    except NopostError as error:
        return f"{name}: {error}"
    if confirmed is None:
        return ""
    whole = confirmed[:-1] if line == "u" and len(kept) < len(confirmed) else confirmed
    if kept[: len(whole)] != whole:
        return f"{name}: {len(confirmed)} answers were confirmed, {len(kept)} are there after {line!r}"
    more = kept[len(whole) :]
    if (
        more and len(more) > (2 if more[-1].kind is EventKind.END else 1) and line != "0x55"
    ):  # "it starts" is a fix done and an end
        return f"{name}: {len(kept) - len(whole)} answers more than were given"
    return ""
