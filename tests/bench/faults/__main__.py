"""`python -m tests.bench.faults`: kill, fill the disk, take things away; tables of what was tried and what came out."""

from __future__ import annotations

import argparse
import os
import random
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from rich.console import Console

from bench.__main__ import drawn
from bench.section import Section

PARTS = ("sessions", "drafts", "surroundings")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run and print; 1 when anything was lost or broke."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.faults", description=__doc__)
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"which of {', '.join(PARTS)}; default: all")
    parser.add_argument("--sessions", type=int, default=500, help="sessions that are killed (default 500)")
    parser.add_argument("--drafts", type=int, default=40, help="exercises, and drafts of each kind, that are killed (default 40)")
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(10**6), help="to repeat a run")
    parser.add_argument("--only", default="", metavar="TEXT", help="only surroundings with this in their names")
    asked = parser.parse_args(arguments)
    if unknown := sorted(set(asked.parts) - set(PARTS)):
        parser.error(f"no part is called {unknown[0]}; there are {', '.join(PARTS)}")
    console, bad = Console(), False
    console.print(f"seed: {asked.seed}", style="dim", highlight=False)
    with tempfile.TemporaryDirectory(prefix="nopost-faults-") as name:
        home = Path(name) / "home"
        os.environ["NOPOST_HOME"] = str(home)
        for section in run(asked, home, Path(name)):
            console.print()
            console.print(drawn(section))
            for note in section.notes:
                console.print(note, style="dim", highlight=False, markup=False)
            bad = bad or any("FAULT" in note for note in section.notes)
    return int(bad)


def run(asked: argparse.Namespace, home: Path, work: Path) -> Iterator[Section]:
    """The tables, one after another."""
    from bench.faults.kill_drafts import kill_drafts, warm
    from bench.faults.kill_sessions import kill_sessions
    from bench.faults.surroundings import surroundings

    parts = asked.parts or PARTS
    warm(home)
    if "sessions" in parts:
        yield kill_sessions(home, asked.sessions, asked.seed)
    if "drafts" in parts:
        yield kill_drafts(home, work, asked.drafts, asked.seed)
    if "surroundings" in parts:
        yield surroundings(work, asked.only)


if __name__ == "__main__":
    sys.exit(main())
