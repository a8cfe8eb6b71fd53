"""Judge the program on real machines: `python -m tests.real play` and `python -m tests.real coded`.

`play` plays the dialogue against answer sheets, one for each real machine: what its owner would truthfully answer, and which
fixes get it going. `coded` ranks causes for statements of owners that were coded as answers. See README.md beside this file for
what the data are. One price list serves every edition, so that editions can be compared; what it counts must not change.
"""

from __future__ import annotations

import argparse
import collections
import csv
import math
import os
import statistics
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # the arrays are small: more threads only wait for each other
REAL = Path(__file__).resolve().parent
sys.path[:0] = [str(REAL.parents[1] / folder) for folder in ("engine", "cli")]

from nopost import load
from nopost.codes.decode import decode, known_answers
from nopost.codes.tables import TableSet
from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.belief.evidence import Observations, Report
from nopost.diagnosis.diagnose import Diagnostician
from nopost.diagnosis.history import Event, EventKind, History, possible_answers

ACCEPTED = {
    "other:clear-jumper": ("clear-jumper-left",),
    "memory-incompatible": ("memory-incompatible", "memory-mixed-kits"),
    "psu-weak-or-protection": ("psu-weak-or-protection", "latched-standby"),
}
"""Label of a case -> the causes that count as right, where it is not the label itself; a new one that fits better joins."""
MOST_MOVES = 60
HAND_OVER = 246.0
"""Labour of 96 and a part of 150: what giving up costs, whatever the program thinks of it."""
Sheet = Mapping[str, Any]


@dataclass(frozen=True)
class Played:
    """One machine. `rank`: place of the right cause at the end (99: not known); `order`: questions, and fixes after a *."""

    case: str
    cause: str
    mended: bool
    moves: int
    wrong: int
    cost: float
    rank: int
    order: tuple[str, ...]


class Player:
    """The only part that knows the program."""

    def __init__(self) -> None:
        self.diagnostician = Diagnostician(load())
        self.knowledge = self.diagnostician.knowledge
        self.prices = {row["id"]: row for row in csv.DictReader((REAL / "prices.csv").open(encoding="utf-8"))}

    def play(self, sheet: Sheet, defaults: Mapping[str, str], right: Sequence[str]) -> Played:
        """The dialogue against one answer sheet."""
        history, cost, fixes = History(), 0.0, 0
        order: list[str] = []
        mends = sheet.get("mends") or []

        def ended(mended: bool, moves: int, wrong: int, cost: float, rank: int) -> Played:
            return Played(sheet["case"], sheet["cause"][0], mended, moves, wrong, cost, rank, tuple(order))

        while True:
            found = self.diagnostician.diagnose(history)
            rank = rank_of(found.ranking, right)
            step = found.advice.step
            if step.kind is StepKind.LAST_RESORT or len(history.events) >= MOST_MOVES:
                return ended(False, len(history.events), fixes, cost + HAND_OVER, rank)
            for name in (step.id, *step.together):
                order.append(("*" if step.kind is StepKind.DO else "") + name)
                cost += float(self.prices[name]["price"]) if name in self.prices else step.cost
                if step.kind is StepKind.ASK:
                    answer = sheet["answers"].get(name, defaults.get(name, "unknown"))
                    if answer not in possible_answers(self.knowledge.findings[name]):
                        answer = "unknown"
                    history = history.with_event(Event(step.look, name, answer))
                    continue
                fixes += 1
                history = history.with_event(Event(EventKind.TRIED, name, "same"))
            tried = (step.id, *step.together) if step.kind is StepKind.DO else ()
            if set(tried) & set(mends):
                return ended(True, len(history.events), fixes - 1, cost, rank)

    def rank(self, case: Mapping[str, Any]) -> tuple[tuple[str, float], ...]:
        """(cause, probability), falling, from coded statements alone."""
        answers = dict(case.get("answers") or {})
        if case.get("codes"):
            found = decode(case["codes"], TableSet(self.knowledge.codes, self.knowledge.base.roles))
            answers = {**known_answers(found, self.knowledge.findings), **answers}
        tried = [t["action"] for t in case.get("tried") or [] if self.knowledge.actions[t["action"]].kind == "fix"]
        seen = Observations(tuple(Report(f, a) for f, a in answers.items()), tuple(tried))
        return self.diagnostician.ranker.rank(seen).ranking

    def wrong_purchases(self, played: Played) -> int:
        """Fixes that buy a part and did not mend."""
        bought = [self.prices.get(name[1:], {}).get("purchase") == "yes" for name in played.order if name[0] == "*"]
        return sum(bought[:-1] if played.mended else bought)


def rank_of(ranking: Sequence[tuple[str, float]], right: Sequence[str]) -> int:
    """Place of the best-placed right cause, from 1; 99 when none is known."""
    names = [cause for cause, _ in ranking]
    return min([names.index(cause) + 1 for cause in right if cause in names] or [99])


def read(path: Path) -> Any:
    """A YAML file whose values are all texts."""
    return yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)


def labels() -> dict[str, str]:
    """Case -> its label."""
    rows = read(REAL / "cases.yaml") + read(REAL / "reference_cases.yaml")
    return {row["id"]: row["cause"] for row in rows}


def right_causes(label: str) -> Sequence[str]:
    """The causes that count as right for a label."""
    return ACCEPTED.get(label, (label,))


def play_all(folder: Path) -> Iterator[str]:
    """Lines: what came of all machines, then each machine with its path."""
    player, defaults = Player(), read(REAL / "defaults.yaml")
    rows = []
    for path in sorted(folder.glob("*.yaml")):
        sheet = read(path)
        rows.append(player.play(sheet, defaults, sheet["cause"]))
    count = len(rows)
    mended = sum(r.mended for r in rows) / count
    either = sum(r.mended or r.rank == 1 for r in rows) / count
    first = sum(r.rank == 1 for r in rows) / count
    yield (
        f"{count} machines: mended {mended:.0%}; mended or handed over with the right cause first {either:.0%}; "
        f"right cause first at the end {first:.0%}"
    )
    moves, costs = [r.moves for r in rows], [r.cost for r in rows]
    bought = [player.wrong_purchases(r) for r in rows]
    yield (
        f"moves median {statistics.median(moves)}, mean {statistics.mean(moves):.1f}; "
        f"wrong fixes {statistics.mean(r.wrong for r in rows):.2f}, wrong purchases {statistics.mean(bought):.2f} a machine; "
        f"cost at fixed prices: mean {statistics.mean(costs):.0f}, median {statistics.median(costs):.0f}"
    )
    for r in sorted(rows, key=lambda r: (r.mended, -r.rank)):
        yield f"{r.case} {r.cause} {'mended' if r.mended else 'shop'} moves {r.moves} wrong fixes {r.wrong} rank {r.rank}"
        yield "    " + " > ".join(r.order)


def rank_coded(folder: Path) -> Iterator[str]:
    """Lines: how the right cause ranks, reliability by what was said of the first, then each case."""
    label, player, rows = labels(), Player(), []
    for path in sorted(folder.glob("*.yaml")):
        case = read(path)
        ranking, right = player.rank(case), right_causes(label[case["id"]])
        rows.append((case["id"], rank_of(ranking, right), ranking[:3], sum(p for c, p in ranking if c in right)))
    count = len(rows)
    yield (
        f"{count} coded cases: right cause first {sum(r[1] == 1 for r in rows) / count:.0%}, "
        f"among three {sum(r[1] <= 3 for r in rows) / count:.0%}; "
        f"mean log2 P(right) {sum(math.log2(max(r[3], 1e-4)) for r in rows) / count:.2f}"
    )
    bins = collections.defaultdict(list)
    for r in rows:
        bins[min(int(r[2][0][1] * 5), 4)].append(r[1] == 1)
    for b in sorted(bins):
        yield f"  said {b * 20}-{b * 20 + 20} %: {len(bins[b])} cases, right in {sum(bins[b]) / len(bins[b]):.0%}"
    for r in sorted(rows, key=lambda r: -r[1]):
        yield f"{r[0]} {label[r[0]]} rank {r[1]} {[(c, round(p, 2)) for c, p in r[2]]}"


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the summary, and with --list each machine or case."""
    parser = argparse.ArgumentParser(prog="python -m tests.real", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("what", choices=["play", "coded"])
    parser.add_argument("--folder", type=Path, help="answer sheets, or coded cases; default: those beside this file")
    parser.add_argument("--list", action="store_true", help="each machine with its path, or each case")
    asked = parser.parse_args(arguments)
    lines = play_all(asked.folder or REAL / "sheets") if asked.what == "play" else rank_coded(asked.folder or REAL / "coded")
    for k, line in enumerate(lines):
        if asked.list or k < 2 or line.startswith("  said"):
            print(line)


if __name__ == "__main__":
    main()
