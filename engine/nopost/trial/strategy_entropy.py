"""Least entropy: ask what is expected to leave the least doubt about the cause. It knows nothing of costs."""

from __future__ import annotations

import numpy as np

from nopost.belief.hypotheses import Floats
from nopost.trial.bench import Kind, Move
from nopost.trial.game import Game

SURE = 0.8
"""From this probability of one cause on nothing more is asked (judgement)."""
LEAST_BITS = 0.05
"""A question that is expected to tell less is not asked (judgement)."""
NEGLIGIBLE = 1e-5


def sharpest_question(game: Game) -> Move | None:
    """The question on offer with the least expected entropy; None when one cause stands out or nothing tells much."""
    bench = game.bench
    found = bench.assessor.rank(game.seen)
    if found.ranking[0][1] >= SURE:
        return None
    now = bench.model.now(found.posterior, found.evidence)
    kept = np.flatnonzero(now > NEGLIGIBLE)
    best, move = bits(now[kept]) - LEAST_BITS, None
    for finding in game.offers().questions():
        if finding.id in bench.model.bearing:
            joint = now[kept, None] * bench.model.predict_now(finding.id, found.evidence)[kept]
            left = bits(joint) - bits(joint.sum(axis=0))
            if left < best:
                best, move = left, Move(Kind.LOOK, finding.id)
    return move


def bits(masses: Floats) -> float:
    """Entropy of masses that sum to 1, in bits."""
    positive = masses[masses > 0]
    return float(-(positive * np.log2(positive)).sum())
