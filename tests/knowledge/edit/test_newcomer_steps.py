"""The recipes of cli/manual/knowledge.md work to the letter: a cause, a rule and a code table, in its order and its words.

Each section is done on a copy of kb/ as a newcomer does it: shell lines are run through the real entry point, a YAML block is
written into the file that its first line names.
"""

from __future__ import annotations

import json
import re
import shlex
import shutil
import subprocess
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml

from cli.terminal import ROOT, environment, nopost, words

PAGE = (ROOT / "cli" / "manual" / "knowledge.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"^ +```(\w+)\n(.*?)^ +```$", re.MULTILINE | re.DOTALL)
SHELL = "|&;<>$`*?"
"""Characters that only a shell understands; there is `nopost` in none of the lines that need one."""
WIDE = {"COLUMNS": "200"}
MERGED = "shows"
"""The one entry of which a block gives a part: the findings that it names."""


@dataclass(frozen=True, slots=True)
class Bench:
    """Where a newcomer works: a folder with a copy of kb/, and what each shell line printed."""

    folder: Path
    home: Path
    printed: dict[str, str]

    def run(self, line: str) -> str:
        """Run a shell line; what it prints. It must end well, and has nothing to complain of."""
        first, *rest = shlex.split(line)
        if first == "nopost" and not set(line) & set(SHELL):
            done = nopost(*rest, home=self.home, cwd=self.folder, env=WIDE)
        else:
            env = environment(self.home, **WIDE)
            done = subprocess.run(line, shell=True, cwd=self.folder, env=env, capture_output=True, encoding="utf-8", timeout=120)
        assert (done.returncode, done.stderr) == (0, ""), f"{line}\n{done.stdout}{done.stderr}"
        return done.stdout

    def follow(self, title: str) -> None:
        """Do what a section of the page says, block by block."""
        for kind, block in steps(title):
            if kind == "yaml":
                self.write(block)
            else:
                self.printed.update((line, words(self.run(line))) for line in block.splitlines())

    def write(self, block: str) -> None:
        """Write a block into its file: its entries take the place of those that are there."""
        head, text = block.split("\n", 1)
        path = self.folder / head.removeprefix("# ")
        new: dict[str, Any] = yaml.safe_load(text)
        old: dict[str, Any] = yaml.safe_load(path.read_text(encoding="utf-8")) if path.exists() else {}
        if MERGED in old and MERGED in new:
            new[MERGED] = {**old[MERGED], **new[MERGED]}
        path.write_text(yaml.safe_dump({**old, **new}, sort_keys=False), encoding="utf-8")

    def said(self, begin: str) -> str:
        """What the one line that begins like this printed, without its wrapping."""
        (found,) = (printed for line, printed in self.printed.items() if line.startswith(begin))
        return found

    def data(self, begin: str) -> dict[str, Any]:
        """The same line once more, for programs."""
        (line,) = (line for line in self.printed if line.startswith(begin))
        found: dict[str, Any] = json.loads(self.run(f"{line} --json"))
        return found


@pytest.fixture
def bench(tmp_path: Path, home: Path) -> Bench:
    """A folder with a copy of kb/, as in a fresh checkout."""
    shutil.copytree(ROOT / "kb", tmp_path / "kb")
    return Bench(tmp_path, home, {})


def steps(title: str) -> Iterator[tuple[str, str]]:
    """Kind and text of each block of a section, in order; its steps are numbered from 1 on."""
    section = re.split(r"^## ", PAGE, flags=re.MULTILINE)
    (text,) = (part for part in section if part.startswith(f"{title}\n"))
    numbers = [int(number) for number in re.findall(r"^(\d+)\. ", text, re.MULTILINE)]
    assert numbers == list(range(1, len(numbers) + 1)) != []
    for kind, block in BLOCK.findall(text):
        yield kind, textwrap.dedent(block).strip()


def clean(bench: Bench) -> bool:
    """Whether the check had nothing to say, not even a warning."""
    return bench.said("nopost kb check").startswith("kb: 0 errors, 0 warnings")


@pytest.mark.slow
def test_a_cause(bench: Bench) -> None:
    """It is in order, stands among the first three by the answers given, and no case comes out otherwise."""
    bench.follow("Add a cause")
    assert clean(bench)
    assert "dust-in-memory-slot" in [cause["id"] for cause in bench.data("nopost diagnose")["causes"][:3]]
    assert "Dust or a hair lies in a memory slot" in bench.said("nopost diagnose")
    count = len(list((bench.folder / "kb" / "cases").iterdir()))
    assert f"{count} of {count} cases as expected" in bench.said("nopost kb try")


def offered(found: dict[str, Any]) -> set[str]:
    """The next step of an assessment and the other good ones."""
    return {step["id"] for step in (found["next"], *found["others"])}


@pytest.mark.slow
def test_a_rule(bench: Bench) -> None:
    """It is in order, fires, is told with its reason, and does what it says: it weighs, and a question is no longer asked."""
    bench.follow("Add a rule")
    assert clean(bench)
    found = bench.data("nopost diagnose")
    assert "fan-over-a-film" in [rule["id"] for rule in found["rules"]]
    assert "Over a film a turning fan cools nothing" in bench.said("nopost diagnose")
    assert "so do not run it for that." in bench.said("nopost diagnose")
    assert "1 of 1 cases as expected" in bench.said("nopost kb try")
    seen = yaml.safe_load((bench.folder / "kb" / "cases" / "fan-over-a-film.yaml").read_text(encoding="utf-8"))["answers"]
    given = " ".join(f"--answer {finding}={answer}" for finding, answer in seen.items())
    without = json.loads(bench.run(f"nopost diagnose {given} --json"))  # the shipped knowledge
    assert "heatsink-heat" in offered(without) - offered(found)
    assert chance(found) > chance(without) > 0


def chance(found: dict[str, Any]) -> float:
    """How likely the cause is for which the rule weighs."""
    return float({cause["id"]: cause["probability"] for cause in found["causes"]}["cooler-not-working-overheat"])


@pytest.mark.slow
def test_a_code_table(bench: Bench) -> None:
    """It is in order, is shown, and reads a log of its own board."""
    bench.follow("Add a board's code table")
    assert clean(bench)
    assert "E1 memory error memory No memory was found" in bench.said("nopost codes show my-board")
    assert "my-board: 2E Meaning Memory is being trained" in bench.said("nopost codes show 2E")
    assert "The board on my bench" in bench.said("nopost board show")
    told = bench.said("nopost decode")
    assert "stopped and stayed at E1" in told
    assert "E1 No memory was found [my-board, 100%]" in told
    assert "A memory module is not pushed home" in told
