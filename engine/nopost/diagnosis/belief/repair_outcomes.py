"""What a fix in vain tells: after it nothing has changed, or something else is seen now.

An action says how probable it is that something else is seen after it although the machine still does not work (`changes`), and a
cause may say otherwise for itself. Two causes that are both still there change what is seen by noisy-OR: either does so by
itself (Pearl 1988, "Probabilistic Reasoning in Intelligent Systems", section 4.3.2). An action without `changes` tells nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nopost.diagnosis.belief.hypotheses import Floats, Hypotheses
from nopost.knowledge.model import Knowledge

REMOVAL_SHOWS = 0.9
"""Something else is seen with this probability because the fix has just removed one of two causes (judgement: mostly the start
comes further then, but the cause that is left may hide it)."""


@dataclass(frozen=True)
class OutcomeLikelihood:
    """Logarithms of P(what is seen after a failed fix | what is there after it).

    `nothing_removed`: (H,) when the fix removed nothing; `one_removed`: (C,) when this cause is left of two, and the fix has just
    removed the other.
    """

    nothing_removed: Floats
    one_removed: Floats


def chance_of_change(knowledge: Knowledge, hypotheses: Hypotheses, action: str) -> Floats | None:
    """(C,) P(something else is seen after this fix | this cause alone, still there); None when the action tells nothing."""
    item = knowledge.actions.get(action)
    usual = item.changes if item else None
    if usual is None:
        return None
    return np.array([knowledge.causes[name].changes.get(action, usual) for name in hypotheses.causes], dtype=float)


def change_by_hypothesis(hypotheses: Hypotheses, chance: Floats) -> Floats:
    """(H,) P(something else is seen | all of this is still there), from (C,) the chance under each cause alone.

    Under an unlisted cause it is the prior mean.
    """
    pairs, prior = hypotheses.pairs, np.exp(hypotheses.log_prior[: len(chance)])
    of_pairs = 1 - (1 - chance[hypotheses.first[pairs]]) * (1 - chance[hypotheses.second[pairs]])
    return np.concatenate([chance, of_pairs, [prior @ chance / prior.sum()]])


def after_removal(chance: Floats) -> Floats:
    """P(something else is seen | a fix has just removed one of two causes), from that of the cause that is left."""
    return np.asarray(1 - (1 - REMOVAL_SHOWS) * (1 - chance))


def outcome_likelihood(hypotheses: Hypotheses, chance: Floats, *, changed: bool) -> OutcomeLikelihood:
    """The likelihood of what was seen after one failed fix, from (C,) the chance of a change under each cause alone."""
    of_all, removed = change_by_hypothesis(hypotheses, chance), after_removal(chance)
    if changed:
        return OutcomeLikelihood(np.log(of_all), np.log(removed))
    return OutcomeLikelihood(np.log1p(-of_all), np.log1p(-removed))
