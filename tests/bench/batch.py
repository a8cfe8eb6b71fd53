"""Many logs: logs per second by cores, beside the least that anyone would do.

The reference only finds two-digit codes with a regular expression and looks each up in one table: no map is inferred, no boot
followed, no cause ranked. Logs are drawn from the hex tables.
"""

from __future__ import annotations

import random
import re
import time
from collections.abc import Iterator
from functools import partial

from bench.clock import in_turn
from bench.section import Options, Section
from nopost.batch.log_sources import Log
from nopost.batch.parallel_decoding import decode_logs
from nopost.knowledge.model import Knowledge
from nopost.loading import load_knowledge

CORES = (1, 2)
LENGTHS = (60, 400)


def sections(options: Options) -> list[Section]:
    """Short and long logs."""
    knowledge = load_knowledge()
    repeats = options.few(3, 1)
    table = Section(
        f"Batch decoding, medians of {repeats}",
        ("codes a log", "logs", "work", "logs/s", "spread ms", "over the reference"),
    )
    for length in LENGTHS:
        logs = list(drawn_logs(knowledge, options.few(6000, 300) * LENGTHS[0] // length, length, options.seed))
        works = [partial(_look_up, knowledge, logs), *(partial(_decode, knowledge, logs, cores) for cores in CORES)]
        names = ["find and look up (reference)", *(f"nopost, {cores} core{'s' * (cores > 1)}" for cores in CORES)]
        timings = in_turn(works, repeats, time.perf_counter)
        for name, timing in zip(names, timings, strict=True):
            table.add(length, len(logs), name, 1e3 * len(logs) / timing.ms, timing.spread, timing.over(timings[0]))
    table.notes.append("Starting two workers is part of the time.")
    return [table]


def drawn_logs(knowledge: Knowledge, count: int, length: int, seed: int) -> Iterator[Log]:
    """Logs that walk up one table's progress codes, now and then falling back to the start."""
    dice = random.Random(seed)
    tables = [t for t in knowledge.codes.values() if t.form == "hex" and not t.generic]
    for number in range(count):
        steps = [c.code[-2:] for c in dice.choice(tables).codes if c.kind == "progress" and "-" not in c.code]
        codes: list[str] = []
        place = 0
        while len(codes) < length:
            codes.append(steps[place])
            place = 0 if dice.random() < 0.02 else min(place + dice.choice((0, 1, 1, 1, 2)), len(steps) - 1)
        yield Log(f"log-{number}", " ".join(codes))


def _decode(knowledge: Knowledge, logs: list[Log], cores: int) -> int:
    return sum(1 for _ in decode_logs(iter(logs), knowledge, cores))


def _look_up(knowledge: Knowledge, logs: list[Log]) -> int:
    known = {code.code[-2:] for code in knowledge.codes["edk2"].codes}
    digits = re.compile(r"\b[0-9A-F]{2}\b")
    return sum(code in known for log in logs for code in digits.findall(str(log.content)))
