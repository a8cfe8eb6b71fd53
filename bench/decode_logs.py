"""Batch decoding: logs per second for 60 and 400 codes, by number of workers, beside the least that anyone would do.

    python bench/decode_logs.py [LOGS]

The reference, measured in the same run, only finds two-digit codes with a regular expression and looks each up in one table:
no map is inferred, no boot followed, no cause ranked. Medians of three repeats. Logs are drawn from the hex tables.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import random
import re
import statistics
import sys
import time
from collections.abc import Callable, Iterator

from rich.console import Console
from rich.table import Table

from nopost.cases.batch import decode_logs
from nopost.cases.batch_log import Log
from nopost.knowledge.load import load_knowledge
from nopost.knowledge.model import Knowledge

REPEATS = 3


def drawn_logs(knowledge: Knowledge, count: int, length: int) -> Iterator[Log]:
    """Logs that walk up one table's progress codes, now and then falling back to the start."""
    dice = random.Random(7)
    tables = [t for t in knowledge.codes.values() if t.form == "hex" and not t.generic]
    for number in range(count):
        steps = [c.code[-2:] for c in dice.choice(tables).codes if c.kind == "progress" and "-" not in c.code]
        codes: list[str] = []
        place = 0
        while len(codes) < length:
            codes.append(steps[place])
            place = 0 if dice.random() < 0.02 else min(place + dice.choice((0, 1, 1, 1, 2)), len(steps) - 1)
        yield Log(f"log-{number}", " ".join(codes))


def reference(knowledge: Knowledge, logs: list[Log]) -> int:
    """Find codes and look them up; how many were known."""
    known = {code.code[-2:] for code in knowledge.codes["edk2"].codes}
    digits = re.compile(r"\b[0-9A-F]{2}\b")
    return sum(code in known for log in logs for code in digits.findall(str(log.content)))


def per_second(count: int, work: Callable[[], object]) -> float:
    """Logs per second, the median of the repeats."""
    times = []
    for _ in range(REPEATS):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return count / statistics.median(times)


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 4000
    knowledge = load_knowledge()
    table = Table(title=f"{count} logs, medians of {REPEATS}")
    for title in ("codes a log", "work", "logs/s", "share of the reference"):
        table.add_column(title, justify="right")
    for length in (60, 400):
        some = count if length == 60 else count // 4
        logs = list(drawn_logs(knowledge, some, length))
        base = per_second(some, lambda logs=logs: reference(knowledge, logs))  # type: ignore[misc]
        table.add_row(str(length), "reference: find and look up", f"{base:,.0f}", "1")
        for workers in (1, 2):
            rate = per_second(some, lambda w=workers, logs=logs: sum(1 for _ in decode_logs(iter(logs), knowledge, w)))  # type: ignore[misc]
            table.add_row(str(length), f"nopost, {workers} worker{'s' * (workers > 1)}", f"{rate:,.0f}", f"1/{base / rate:,.0f}")
    Console().print(table)


if __name__ == "__main__":
    main()
