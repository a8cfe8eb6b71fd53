"""Judge the program on real machines: `python -m tests.real play` and `python -m tests.real coded`.

A thin runner over what `nopost kb try --machines` and `--score` use, with two things of these data: the answers of a sound
machine are those of `defaults.yaml` beside this file, as they were when edition 3 was measured (`--derived` takes them from the
knowledge, as the product does), and ACCEPTED says which causes count as right. See README.md here for what the data are.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import yaml

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # the arrays are small: more threads only wait for each other
REAL = Path(__file__).resolve().parent
sys.path[:0] = [str(REAL.parents[1] / folder) for folder in ("engine", "cli")]

from nopost import load
from nopost.diagnosis.diagnose import Diagnostician
from nopost.evaluation.answer_sheets import read_sheets
from nopost.evaluation.case_scores import read_labelled_cases, score_case, summarise_scores
from nopost.evaluation.price_list import read_prices
from nopost.evaluation.reliability_diagram import reliability_diagram
from nopost.evaluation.sheet_player import play_sheets, summarise
from nopost_cli.kb.try_machines import machine_lines, machine_summary_lines
from nopost_cli.kb.try_score import case_lines, score_summary_lines

ACCEPTED = {
    "other:clear-jumper": ("clear-jumper-left",),
    "other:drive controller mode changed by the update": ("start-or-drive-mode-reset",),
    "other:a modular lead has bad contact at the supply": ("supply-lead-loose",),
    "other:firmware release sets a wrong CPU voltage": ("firmware-release-faulty",),
    "other:legacy-mode setting hinders the automatic start": ("start-or-drive-mode-reset",),
    "other:battery pack of a portable faulty": ("portable-power",),
    "other:firmware fault with only soldered memory fitted": ("firmware-release-faulty",),
    "other:system lacks the driver for the new kind of drive": ("operating-system-damaged",),
    "other:first firmware of the board starts unreliably": ("firmware-release-faulty",),
    "memory-incompatible": ("memory-incompatible", "memory-mixed-kits"),
    "psu-weak-or-protection": ("psu-weak-or-protection", "latched-standby"),
}
"""Label of a case -> the causes that count as right, where it is not the label itself; a new one that fits better joins."""


CASES = ("cases", "cases_more", "reference_cases")
CODED = (REAL / "coded", REAL.parent / "cases" / "reference")
SPLIT_SEED = 13
"""Draws the half of the cases to work with; the other half is only looked at to see whether numbers were bent to cases."""


def read(path: Path) -> Any:
    """A YAML file whose values are all texts."""
    return yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)


def labels() -> dict[str, tuple[str, ...]]:
    """Case -> the causes that count as right."""
    rows = [row for name in CASES for row in read(REAL / f"{name}.yaml")]
    return {row["id"]: ACCEPTED.get(row["cause"], (row["cause"],)) for row in rows}


def is_in(half: str) -> Callable[[str], bool]:
    """Whether a case is in a half: work or look; all takes cases of other folders too."""
    if half == "all":
        return lambda case: True
    cases = sorted(row["id"] for name in CASES for row in read(REAL / f"{name}.yaml"))
    random.Random(SPLIT_SEED).shuffle(cases)
    middle = len(cases) // 2
    return frozenset(cases[:middle] if half == "work" else cases[middle:]).__contains__


def play_all(folder: Path, half: str, derived: bool, listed: bool) -> Iterator[str]:
    """Lines: what came of all machines, then each machine with its path."""
    knowledge, wanted = load(), is_in(half)
    found = read_sheets(folder, knowledge)
    sheets = [sheet for sheet in found.sheets if wanted(sheet.case)]
    played = play_sheets(knowledge, sheets, read_prices(), None if derived else read(REAL / "defaults.yaml"))
    yield from machine_summary_lines(summarise(played))
    yield from machine_lines(played) if listed else ()
    yield from map(str, (*found.left_out, *found.untaken))


def score_all(folders: Sequence[Path], half: str, listed: bool) -> Iterator[str]:
    """Lines: how the right cause ranks, reliability by what was said of the first, then each case. Counted are the cases whose
    label is a cause of the knowledge."""
    knowledge, wanted = load(), is_in(half)
    diagnostician, found = Diagnostician(knowledge), [read_labelled_cases(folder, knowledge, labels()) for folder in folders]
    known = [case for part in found for case in part.cases if wanted(case.id) and set(case.causes) & set(knowledge.causes)]
    scored = [score_case(diagnostician, case) for case in known]
    yield from score_summary_lines(summarise_scores(scored))
    yield from case_lines(scored) if listed else ()
    yield from (str(problem) for part in found for problem in (*part.left_out, *part.untaken))


def draw(chart: Path) -> None:
    """Write the reliability diagram of both halves."""
    diagnostician = Diagnostician(load())
    found = [read_labelled_cases(folder, diagnostician.knowledge, labels()) for folder in CODED]
    known = [case for part in found for case in part.cases if set(case.causes) & set(diagnostician.knowledge.causes)]
    series = {}
    for half, name in (("work", "half to work with"), ("look", "half to look at")):
        scored = [score_case(diagnostician, case) for case in known if is_in(half)(case.id)]
        series[name] = summarise_scores(scored).reliability
    chart.write_text(reliability_diagram("Coded statements of real cases", series), encoding="utf-8")


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the summary, and with --list each machine or case."""
    parser = argparse.ArgumentParser(prog="python -m tests.real", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("what", choices=["play", "coded"])
    parser.add_argument("--folder", type=Path, help="answer sheets, or coded cases; default: those beside this file")
    parser.add_argument("--half", choices=["all", "work", "look"], default="all", help="one half of the cases, split by a seed")
    parser.add_argument("--list", action="store_true", help="each machine with its path, or each case")
    parser.add_argument("--derived", action="store_true", help="sound answers from the knowledge, not from defaults.yaml")
    parser.add_argument("--chart", type=Path, help="with coded: write the reliability diagram of both halves there, and no more")
    asked = parser.parse_args(arguments)
    if asked.what == "coded" and asked.chart:
        draw(asked.chart)
        return
    if asked.what == "play":
        lines = play_all(asked.folder or REAL / "sheets", asked.half, asked.derived, asked.list)
    else:
        lines = score_all([asked.folder] if asked.folder else CODED, asked.half, asked.list)
    for line in lines:
        print(line)


if __name__ == "__main__":
    main()
