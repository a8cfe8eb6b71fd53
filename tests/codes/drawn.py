"""Code sequences drawn from a table, or from a map that nobody knows, for the tests.

The way they are drawn knows nothing of the model that has to recognise them: the normal order with gaps, errors, restarts and
foreign codes.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

from nopost.codes.code_events import CodeEvent
from nopost.knowledge.reference_records import Code, CodeTable

LEAST = 12
"""Codes of a drawn sequence, unless more or fewer are asked for; a table needs as many to draw from."""


def shown(table: CodeTable, code: str) -> str:
    """What the sequence has of a code: only its low byte where the table says so."""
    return code[-2:] if table.low_byte else code


def normal_codes(table: CodeTable) -> list[Code]:
    """The rows that a start without a fault may pass, in their order."""
    return [c for c in table.codes if c.kind != "error" and c.phase not in ("recovery", "resume", "any")]


def trace(
    table: CodeTable, rng: random.Random, *, noise: float = 0.03, least: int = LEAST, boots: Sequence[int] = (1, 1, 1, 2, 3)
) -> list[str]:
    """At least `least` codes; each is foreign with the chance `noise`."""
    normal = normal_codes(table)
    errors = [c for c in table.codes if c.kind == "error"]
    while True:
        keep, start, end = rng.uniform(0.3, 0.95), rng.randint(0, 3), rng.randint(8, len(normal))
        codes: list[str] = []
        for _ in range(rng.choice(boots)):
            codes += [shown(table, c.code) for c in normal[start:end] if rng.random() < keep]
            if errors and rng.random() < 0.2:
                codes.append(shown(table, rng.choice(errors).code))
        if len(codes) >= least:
            return [foreign(rng, len(code)) if rng.random() < noise else code for code in codes]


def foreign(rng: random.Random, width: int) -> str:
    """Any value of this width."""
    return f"{rng.randrange(16**width):0{width}X}"


def unknown(rng: random.Random, count: int, *, rising: bool = False) -> list[str]:
    """Codes of a map with 60 random values, in the map's order; `rising`: which is that of the numbers."""
    values = rng.sample(range(1, 255), 60)
    ordered = sorted(values) if rising else values
    first = rng.randrange(60 - count + 1)
    return [f"{value:02X}" for value in ordered[first : first + count]]


def events(codes: Sequence[str]) -> list[CodeEvent]:
    """Events with these codes and nothing else."""
    return [CodeEvent(code) for code in codes]
