"""What a review check says: a problem, and the items it is about, so that a written exception can name them."""

from __future__ import annotations

from dataclasses import dataclass

from nopost.knowledge.problem import Problem


@dataclass(frozen=True, slots=True, order=True)
class Remark:
    """One remark. `about`: the items as folder/id, the one whose file is named first; the base is just "base"."""

    problem: Problem
    about: tuple[str, ...]
