"""Several processes at the same data at the same moment."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from bench.faults.streams import run
from cli.terminal import GENEROUS, command, environment

SCORE = """
import sys
from nopost.drill import scores
for k in range(10):
    scores.add("ab", scores.Score("2031-05-17", 1, "easy", ("no-power",), "", "shop", int(sys.argv[1]), k, 0, 0, 0, 0))
"""


def together(home: Path, count: int, lines: str, *words: str) -> list[subprocess.Popen[str]]:
    """So many processes with the same lines typed; all have ended."""
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.STDOUT}
    env = environment(home)
    started = [subprocess.Popen(command(*words), env=env, text=True, **pipes) for _ in range(count)]  # type: ignore[call-overload]
    for each in started:
        each.said = each.communicate(lines, timeout=GENEROUS * 3)[0]
        assert "Traceback" not in each.said, each.said[-800:]
    return started


def one_session(place: Path) -> str:
    """Eight go on with one session at once: whoever ends with 0 has all answers kept, the others are told."""
    run(place, "diagnose", "--ask", "--name", "one", stdin="1\nq\n")
    done = together(place, 8, "1\n1\n1\nq\n", "resume", "one")
    data = json.loads((place / "sessions" / "one.json").read_text("utf-8"))
    well = [each for each in done if each.returncode == 0]
    told = [each for each in done if each.returncode == 1]
    assert len(well) + len(told) == len(done), [each.returncode for each in done]
    assert all("Not kept" in each.said for each in told)  # type: ignore[attr-defined]
    assert len(data["events"]) >= 1 + 3 * len(well), (len(data["events"]), len(well))
    return f"{len(well)} kept all answers, {len(told)} were told (exit 1); the file is whole"


def at_once(place: Path) -> str:
    """Twelve without a name begin at once."""
    run(place, "sessions")
    done = together(place, 12, "1\n1\nq\n", "diagnose")
    kept = list((place / "sessions").glob("*.json"))
    assert [each.returncode for each in done] == [0] * 12, [each.returncode for each in done]
    assert len(kept) == 12, kept
    assert all(len(json.loads(path.read_text("utf-8"))["events"]) == 2 for path in kept)
    return "12 sessions, each with its 2 answers"


def scores_at_once(place: Path) -> str:
    """Four processes write ten scores each for the same person."""
    env = environment(place)
    started = [subprocess.Popen([sys.executable, "-c", SCORE, str(k)], env=env) for k in range(4)]
    codes = [each.wait(GENEROUS) for each in started]
    kept = len(json.loads((place / "drill" / "ab.json").read_text("utf-8"))["attempts"])
    assert codes == [0] * 4, codes
    assert kept == 40, f"{kept} of 40 scores are there"
    return "40 of 40 scores kept"
