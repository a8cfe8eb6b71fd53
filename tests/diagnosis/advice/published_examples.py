"""Published worked examples as numbers. Each source is named where it is used."""

from __future__ import annotations

import numpy as np

from diagnosis.advice.plain import repair_problem
from nopost.diagnosis.advice.value_of_information import Question, RepairProblem
from nopost.diagnosis.belief.hypotheses import Floats

DEAR = 1e6
"""Cost of a last resort so dear that everything else is tried first."""


def vector(*values: float) -> Floats:
    """A vector."""
    return np.array(values, dtype=float)


# Heckerman, Breese & Rommelse 1995, CACM 38(3) p. 50 Fig. 1: what is left when neither repair works costs nothing there.
FIG1_OBSERVE = 5.0
FIG1_COST = vector(10, 20)
FIG1_CHANCE = np.array([[1.0, 0.0], [0.0, 1.0], [0.0, 0.0]])
FIG1_TRUE, FIG1_FALSE, FIG1_PLAIN = vector(0.9, 0.01, 0.09), vector(0.25, 0.7, 0.05), vector(0.5, 0.05, 0.45)
"""Masses (c1 is it, c2 is it, neither): o true, o false, not observed."""


def fig1_observation() -> tuple[RepairProblem, Question]:
    """The observation node: its branches are one joint distribution, though not the one of the other root choices."""
    joint = np.array([0.8 * FIG1_TRUE, 0.2 * FIG1_FALSE])
    belief = joint.sum(axis=0)
    return repair_problem(belief, np.eye(3), FIG1_CHANCE, FIG1_COST, DEAR), Question("o", FIG1_OBSERVE, (joint / belief).T)


# Jensen et al. 2001, AI EDAM 15 p. 323 Fig. 1.
DEPENDENT_MASS = vector(0.20, 0.25, 0.40, 0.15)
DEPENDENT_CHANCE = np.array([[1, 0, 0], [1, 1, 0], [0, 1, 1], [0, 0, 1]], dtype=float)
DEPENDENT_COST = vector(1, 1, 1)
A1, A2, A3 = range(3)

# Lin 2014, IJAR 55 p. 979 Fig. 2.
LIN_MASS, LIN_COST = vector(1 / 2, 1 / 4, 1 / 4), vector(1, 1, 1)
LIN_QUESTION = np.array([[0.5, 0.5], [1, 0], [0, 1]])
"""Which of the last two it is."""
