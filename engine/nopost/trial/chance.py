"""Chance by name: a number that depends only on a seed and on what it is for, never on what was drawn before.

So two ways of repairing the same machine meet the same luck (common random numbers: Law, Simulation Modeling and Analysis,
chapter on variance reduction), and the order of the work does not change the machine.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

import numpy as np

from nopost.belief.hypotheses import Floats


def uniform(seed: int, *what: str | int) -> float:
    """A number from 0 up to 1, the same for the same seed and names on every machine."""
    text = "\x1f".join(map(str, (seed, *what)))
    digest = hashlib.blake2b(text.encode(), digest_size=8).digest()
    return (int.from_bytes(digest, "big") >> 11) / 2**53


def pick(weights: Floats | Sequence[float], u: float) -> int:
    """Index drawn in proportion to the weights, from a uniform number; never one of weight 0."""
    edges = np.cumsum(weights)
    place = int(np.searchsorted(edges, u * edges[-1], side="right"))
    return min(place, int(np.flatnonzero(np.asarray(weights) > 0)[-1]))
