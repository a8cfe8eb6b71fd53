"""Which causes a simulated machine has: drawn by the prior of the knowledge base."""

from __future__ import annotations

import random

import numpy as np

from nopost.belief.model import BeliefModel
from nopost.errors import NopostError, UnknownNameError
from nopost.trial.chance import pick

Causes = tuple[str, ...]


def draw_causes(
    model: BeliefModel, rng: random.Random, *, two_faults: bool = True, cause: str = "", unlisted: bool = False
) -> Causes:
    """One or two causes by the prior. `two_faults`: pairs too; `cause`: only sets with this one; `unlisted`: also no listed
    cause at all, an empty tuple. Raises UnknownNameError."""
    h = model.h
    weights = np.exp(h.log_prior)
    if not two_faults:
        weights[h.pairs] = 0.0
    if not unlisted:
        weights[-1] = 0.0
    if cause:
        if cause not in model.index:
            raise UnknownNameError("cause", cause, model.index)
        weights = weights * h.has(model.index[cause])
    return causes_of(model, pick(weights, rng.random()))


def causes_of(model: BeliefModel, hypothesis: int) -> Causes:
    """The causes of a hypothesis, by its number; none for the unlisted one."""
    names = {model.h.causes[k] for k in (model.h.first[hypothesis], model.h.second[hypothesis]) if k >= 0}
    return tuple(sorted(names))


def hypothesis_of(model: BeliefModel, causes: Causes) -> int:
    """The number of the hypothesis with just these causes. Raises UnknownNameError, and NopostError when they cannot be
    together."""
    for cause in causes:
        if cause not in model.index:
            raise UnknownNameError("cause", cause, model.index)
    there = model.h.sizes == len(set(causes))
    for cause in causes:
        there &= model.h.has(model.index[cause])
    rows = np.flatnonzero(there)
    if not len(rows):
        raise NopostError(f"{' and '.join(causes)} do not go together in this knowledge base")
    return int(rows[0])
