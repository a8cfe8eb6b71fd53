"""Which machine to set before an apprentice: by level, by what is due again, or by a seed for a whole class."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

from nopost.advice.assess import Assessor
from nopost.drill.attempt import Attempt, begin, play
from nopost.trial.draw import draw_causes

LEVELS = {"first": (3, 9), "second": (6, 15), "third": (8, 40)}
"""Level -> how many steps the advice takes at least and at most (judgement)."""
TRIES = 60
"""So many machines are drawn at most until one is of the level; then the nearest is taken."""
MACHINES = 2**32


@dataclass(frozen=True)
class Exercise:
    """A machine for an apprentice, and how the advice gets it going. `seed`: what draws it again, None when nothing does."""

    seed: int | None
    level: str
    attempt: Attempt
    model: Attempt

    @property
    def causes(self) -> tuple[str, ...]:
        """What is wrong with it."""
        return self.attempt.machine.causes


def draw_exercise(assessor: Assessor, seed: int, level: str, cause: str = "") -> Exercise:
    """The exercise of a seed, with `cause` when one is to be practised; two faults come only in the third level."""
    rng = random.Random(f"{seed} {level}")
    nearest: tuple[int, Exercise] | None = None
    for _ in range(TRIES):
        causes = draw_causes(assessor.model, rng, two_faults=level == "third", cause=cause)
        exercise = set_up(assessor, causes, rng.randrange(MACHINES), level, None if cause else seed)
        away = _away(exercise)
        if nearest is None or away < nearest[0]:
            nearest = away, exercise
        if away == 0:
            break
    assert nearest is not None  # at least one was drawn
    return nearest[1]


def set_up(assessor: Assessor, causes: Sequence[str], machine: int, level: str = "", seed: int | None = None) -> Exercise:
    """An exercise with these causes; `machine` is the seed of what it shows."""
    attempt = begin(assessor, causes, machine)
    return Exercise(seed, level, attempt, play(begin(assessor, causes, machine)))


def _away(exercise: Exercise) -> int:
    """How far a machine is from its level; one that the advice gives to the shop is farthest."""
    low, high = LEVELS[exercise.level]
    steps = len(exercise.model.taken)
    return max(low - steps, steps - high, 0) + (exercise.model.ended != "starts") * high
