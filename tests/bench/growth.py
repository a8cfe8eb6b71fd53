"""How cost grows: one size is doubled while the others stay, and an exponent is fitted: time ~ size to this power."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial

import numpy as np

from bench.clock import once, timed
from bench.section import Options, Section
from diagnosis.belief.generated_base import generated, sampled_evidence
from nopost.diagnosis.belief.evidence import Observations
from nopost.diagnosis.diagnose import Diagnostician
from nopost.knowledge.model import Knowledge

CAUSES, FINDINGS, ANSWERS = 100, 80, 10
WHAT = ("compile", "posterior", "next step")
Measured = dict[str, float]


def sections(options: Options) -> list[Section]:
    """One row for each size that grows and each thing that is measured."""
    steps = (1, 2) if options.quick else (1, 2, 4, 8)
    table = Section(
        f"How cost grows, from {CAUSES} causes × {FINDINGS} findings with {ANSWERS} answers given, milliseconds",
        ("grows", "what", *(f"×{step}" for step in steps), "exponent"),
    )
    table.notes.append("Exponent: least squares on logarithms; 0 does not grow, 1 in proportion, 2 with the square.")
    for name, base, measured in _grown(options, steps):
        for what in WHAT:
            times = [m[what] for m in measured]
            table.add(f"{name} from {base}", what, *times, exponent(steps, times))
    return [table]


def _grown(options: Options, steps: Sequence[int]) -> list[tuple[str, int, list[Measured]]]:
    def row(name: str, base: int, make: Callable[[int], tuple[Knowledge, int]]) -> tuple[str, int, list[Measured]]:
        return name, base, [_measured(*make(step), options) for step in steps]

    few = 2
    return [
        row("causes", CAUSES, lambda s: (generated(CAUSES * s, FINDINGS, options.seed), ANSWERS)),
        row("findings", FINDINGS, lambda s: (generated(CAUSES, FINDINGS * s, options.seed), ANSWERS)),
        row("answers given", few, lambda s: (generated(CAUSES, FINDINGS, options.seed), few * s)),
    ]


def _measured(knowledge: Knowledge, answers: int, options: Options) -> Measured:
    """Milliseconds; medians over machines, for the evidence of one may settle more than that of another."""
    diagnostician = Diagnostician(knowledge)
    machines = [sampled_evidence(knowledge, answers, options.seed + k) for k in range(3 if options.quick else 9)]
    posterior = [timed(partial(diagnostician.model.posterior, e), 3).ms for e in machines]
    steps = [timed(partial(diagnostician.assess, Observations(e.reports)), 3).ms for e in machines]
    compiled = 1e3 * once(lambda: Diagnostician(knowledge))
    return dict(zip(WHAT, (compiled, float(np.median(posterior)), float(np.median(steps))), strict=True))


def exponent(sizes: Sequence[float], times: Sequence[float]) -> float:
    """Slope of log time over log size."""
    return float(np.polyfit([math.log(s) for s in sizes], [math.log(t) for t in times], 1)[0])
