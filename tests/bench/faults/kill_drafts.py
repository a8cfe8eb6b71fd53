"""kill -9 in exercises and in guided talks: scores, drafts of boards and of items of a knowledge base."""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from bench.section import Section
from cli.terminal import Terminal, command, environment, plain
from nopost.errors import NopostError
from nopost.knowledge.yaml_reader import read_yaml
from nopost.training import progress

MARK = "Marked title number"
KEPT = "Kept for"
PATIENCE = 60.0


def kill_drafts(home: Path, work: Path, count: int, seed: int) -> Section:
    """So many of each kind."""
    table = Section(f"kill -9 where else something is kept, seed {seed}", ("what", "killed", "confirmed", "lost or unreadable"))
    base = _new_base(home, work)
    for what, one in (
        ("scores of exercises", _score),
        (
            "draft of a board",
            lambda h, k, luck: _draft(h, ["board", "new", "--out", str(work / "x.yaml")], "board.yaml", k, luck),
        ),
        ("draft of a cause", lambda h, k, luck: _draft(h, ["kb", "add", "cause", "--kb", str(base)], "kb-cause-*", k, luck)),
    ):
        results = list(_each(one, home, count, seed))
        faults = [fault for _, fault in results if fault]
        table.add(what, count, sum(confirmed for confirmed, _ in results), len(faults))
        table.notes += [f"FAULT {what}: {fault}" for fault in faults][:10]
    return table


One = Callable[[Path, int, random.Random], tuple[int, str]]


def _each(one: One, home: Path, count: int, seed: int) -> Iterator[tuple[int, str]]:
    for k in range(count):
        yield one(home, k, random.Random(f"{seed}-{k}"))


def _new_base(home: Path, work: Path) -> Path:
    """A copy of the shipped base to add to."""
    import shutil

    from nopost.files import data_dir

    return Path(shutil.copytree(data_dir("kb"), work / "base", dirs_exist_ok=True))


def _score(home: Path, k: int, luck: random.Random) -> tuple[int, str]:
    """Give an exercise away, name nothing, and kill at about the moment when the score is written."""
    before = len(progress.load_scores("ab"))
    with Terminal(["drill", "--case", "tb-slipped-screwdriver", "--name", "ab"], environment(home)) as at:
        at.prompt()
        begin = len(at.text)
        at.type("x\n")
        at.wait_for("Type yes:", begin)
        at.type("yes\n")
        at.wait_for("The cause:", begin)
        at.type("\n")
        told = luck.random() < 0.3
        if told:
            at.wait_for(KEPT, begin)
        else:
            time.sleep(luck.uniform(0.0, 0.6))
        at.process.kill()
        at.process.wait()
    try:
        after = len(progress.load_scores("ab"))
    except NopostError as error:
        return int(told), str(error)
    wrong = after < before + told or after > before + 1
    return int(told), f"{after} scores where {before} were, told: {told}" if wrong else ""


def _draft(home: Path, words: list[str], pattern: str, k: int, luck: random.Random) -> tuple[int, str]:
    """Begin anew, answer the first question and some more with Enter; the first answer must be in the draft."""
    for old in (home / "drafts").glob(pattern):
        old.unlink()
    title = f"{MARK} {k}"
    with Terminal(words, environment(home)) as at:
        _question(at, 0)
        typed, confirmed = luck.randrange(4), 0
        for number in range(typed + 1):
            begin = len(at.text)
            at.type(f"{title if number == 0 else ''}\n")
            if number == typed and luck.random() < 0.7:
                time.sleep(luck.uniform(0.0, 0.1))
                break
            _question(at, begin)
            confirmed += 1
        at.process.kill()
        at.process.wait()
    found = list((home / "drafts").glob(pattern))
    for path in found:
        document, problems = read_yaml(path)
        if problems or not isinstance(document.data, dict):
            return confirmed, f"{path}: {problems}"
        if title in str(document.data):
            return confirmed, ""
    return confirmed, f"{title!r} is in none of {found}" if confirmed else ""


def _question(at: Terminal, begin: int) -> None:
    """Until something stands there with a colon behind it."""
    at._read(begin, lambda new: plain(new).rstrip("\n").endswith((": ", "? ")) or at.process.poll() is not None, "a question")


def warm(home: Path) -> None:
    """Fill the cache, so that all sessions start alike."""
    import subprocess

    subprocess.run(command("sessions"), env=environment(home), capture_output=True, timeout=PATIENCE, check=True)
